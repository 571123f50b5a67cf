"""Every cause with two cases from the bench: one it must explain, one it must not win.

`cases/<cause>/explains.yaml` is what one would have in front of him when this cause is what is
wrong; `cases/<cause>/not_this.yaml` is a look-alike. Both are written from how the machine behaves
and say under `outcome` what it really was (the diagnosis never reads that). Causes that need not be
told apart (declared alike, or with the same first remedy) share one place. "Nothing is wrong" and
"not in this rule base" take a place like any cause, because the operator sees them in the list.
"""

from functools import cache
from pathlib import Path

import pytest

from troubleshoot.investigation.advice import same_to_the_user
from troubleshoot.investigation.casefile import read_case
from troubleshoot.investigation.journal import UNLISTED
from troubleshoot.investigation.state import Bench
from troubleshoot.knowledge.load import load
from troubleshoot.reasoning.belief import posterior

CASES = Path(__file__).parent / "cases"
AT = "2026-01-05T09:00:00"
NOTHING_WRONG = "nothing wrong"
FOLDERS = sorted(f.name for f in CASES.iterdir())
# A cause without cases -> why.
WITHOUT: dict[str, str] = {}


@cache
def bench(machine):
    """One bench for each machine; profiles with the same hash are the same machine."""
    return BENCHES.setdefault(machine.hash, Bench(load(), machine))


BENCHES: dict[str, Bench] = {}


def read(cause, kind):
    """The case and what is in the list, likeliest first."""
    case = read_case(CASES / cause / f"{kind}.yaml", load(), AT)
    return case, order(case)
