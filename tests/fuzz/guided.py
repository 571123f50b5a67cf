"""Inputs led by the branches that they reach: `python -m tests.fuzz.guided READER [INPUTS]`.

By the fuzzer atheris (`pip install atheris`; Linux, Python 3.11 to 3.13). Ends at the first fault,
whose input is kept for the tests.
"""

import sys
import tempfile
from pathlib import Path


def main(name: str, inputs: str = "100000") -> None:
    """Try so many inputs with the reader of that name."""
    import atheris

    with atheris.instrument_imports(include=["troubleshoot"]):
        from tests.fuzz.__main__ import fault, keep
        from tests.fuzz.readers import READERS

        if name not in READERS:
            sys.exit(f"No reader is called {name!r}; there are {', '.join(READERS)}.")
        for content in READERS[name].corpus():  # what is imported late is imported now
            fault(name, content)

    def one(content: bytes) -> None:
        error = fault(name, content)
        if error is not None:
            print(f"{type(error).__name__}: {error} ({keep(name, content).name})")
            raise error

    with tempfile.TemporaryDirectory() as begin:
        for number, content in enumerate(READERS[name].corpus()):
            (Path(begin) / str(number)).write_bytes(content)
        atheris.Setup([sys.argv[0], f"-runs={inputs}", begin], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
