"""Odd inputs for every reader: `python -m tests.fuzz [--inputs N] [--seconds S] [--only READER]`.

Prints for each reader the inputs tried and the faults found, and writes each fault's input to
`tests/fuzz/faults/`, where a test reads it from then on. `tests.fuzz.guided` tries one reader with
inputs that are led by the branches they reach.
"""

import argparse
import hashlib
import random
import time
import warnings
from pathlib import Path

from tests.fuzz.mutate import mutated
from tests.fuzz.readers import READERS, WORDS
from troubleshoot.errors import UserError

FAULTS = Path(__file__).parent / "faults"


def fault(name: str, content: bytes) -> BaseException | None:
    """What a reader raises that is no sentence for its user, a warning included, or nothing."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            READERS[name].read(content)
    except UserError as error:
        # Of a rule base all problems are told, a line each.
        said = str(error).splitlines() if name == "rules" else [str(error)]
        if any("\n" in line or len(line) > 2000 for line in said):
            return error
    except Exception as error:
        return error
    return None


def keep(name: str, content: bytes) -> Path:
    """Write the input of a fault down for the tests."""
    place = FAULTS / name.replace(" ", "_")
    place.mkdir(parents=True, exist_ok=True)
    path = place / hashlib.sha256(content).hexdigest()[:12]
    path.write_bytes(content)
    return path


def main() -> None:
    """Run the readers one after the other."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=10_000, help="for each reader")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="for each reader")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=READERS)
    given = parser.parse_args()
    print(f"{'reader':<14}{'inputs':>9}{'faults':>8}{'slowest':>10}")
    for name in [given.only] if given.only else READERS:
        chance, corpus = random.Random(f"{given.seed} {name}"), READERS[name].corpus()
        until, kinds = time.monotonic() + given.seconds, {}
        tried = slowest = 0.0
        while tried < given.inputs and time.monotonic() < until:
            content = mutated(corpus, chance, WORDS)[: READERS[name].most]
            begun = time.monotonic()
            error = fault(name, content)
            slowest = max(slowest, time.monotonic() - begun)
            tried += 1
            if error is not None:
                last = error.__traceback__
                while last and last.tb_next:
                    last = last.tb_next
                where = f"{last.tb_frame.f_code.co_filename}:{last.tb_lineno}" if last else "?"
                kind = f"{type(error).__name__} at {where}"
                if kind not in kinds:
                    kinds[kind] = keep(name, content)
                    print(f"  {name}: {kind}: {str(error)[:100]!r} ({kinds[kind].name})")
        print(f"{name:<14}{tried:>9.0f}{len(kinds):>8}{slowest:>9.2f}s", flush=True)


if __name__ == "__main__":
    main()
