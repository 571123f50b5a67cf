"""Odd inputs for every reader: `python -m tests.fuzz [--inputs N] [--seconds S] [--only READER]`.

The readers take turns; `--seconds` are those of the processor. Prints for each reader the inputs
tried and the faults found, and writes each fault's input to `tests/fuzz/faults/`, where a test
reads it from then on. `tests.fuzz.guided` tries one reader with inputs that are led by the branches
they reach.
"""

import argparse
import hashlib
import random
import time
import warnings
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from tests.fuzz.mutate import mutated
from tests.fuzz.readers import READERS, WORDS
from troubleshoot.errors import UserError

FAULTS = Path(__file__).parent / "faults"
TURN = 1.0


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


@dataclass
class Tried:
    """What came of one reader so far; `slowest` and `took` in seconds of the processor."""

    corpus: list[bytes]
    chance: random.Random
    inputs: int = 0
    slowest: float = 0.0
    took: float = 0.0
    kinds: set[str] = field(default_factory=set)


def turn(name: str, tried: Tried, most: int) -> None:
    """Read odd inputs for a second, and tell each new kind of fault."""
    until = tried.took + TURN
    while tried.inputs < most and tried.took < until:
        content = mutated(tried.corpus, tried.chance, WORDS)[: READERS[name].most]
        begun = time.process_time()
        error = fault(name, content)
        took = time.process_time() - begun
        tried.inputs, tried.took = tried.inputs + 1, tried.took + took
        tried.slowest = max(tried.slowest, took)
        if error is not None:
            last = error.__traceback__
            while last and last.tb_next:
                last = last.tb_next
            where = f"{last.tb_frame.f_code.co_filename}:{last.tb_lineno}" if last else "?"
            kind = f"{type(error).__name__} at {where}"
            if kind not in tried.kinds:
                tried.kinds.add(kind)
                kept = keep(name, content).name
                print(f"  {name}: {kind}: {str(error)[:100]!r} ({kept})", flush=True)


def main() -> None:
    """Let the readers take turns of a second each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=10_000, help="for each reader")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="in all")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", choices=READERS, action="append", help="may be given again")
    given = parser.parse_args()
    all_of_them = {
        name: Tried(READERS[name].corpus(), random.Random(f"{given.seed} {name}"))
        for name in given.only or READERS
    }
    with suppress(KeyboardInterrupt):  # what was tried is told all the same
        while time.process_time() < given.seconds:
            going = {n: t for n, t in all_of_them.items() if t.inputs < given.inputs}
            if not going:
                break
            for name, tried in going.items():
                turn(name, tried, given.inputs)
    print(f"{'reader':<14}{'inputs':>9}{'faults':>8}{'slowest':>10}")
    for name, tried in all_of_them.items():
        print(f"{name:<14}{tried.inputs:>9}{len(tried.kinds):>8}{tried.slowest:>9.2f}s")


if __name__ == "__main__":
    main()
