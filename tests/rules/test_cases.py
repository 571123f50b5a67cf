"""Every cause with two cases from the bench: one it must explain, one it must not win.

`cases/<cause>/explains.yaml` is what one has in front of him when this cause is what is wrong;
`cases/<cause>/not_this.yaml` is a look-alike. Both are written from how the machine behaves and say
under `outcome` what it really was (the diagnosis never reads that). Causes that need not be told
apart (declared alike, or with the same first remedy) share one place. "Nothing is wrong" and "not
in this rule base" take a place like any cause, because the operator sees them too.
"""

from functools import cache
from pathlib import Path

import pytest

from troubleshoot.advice.verdict import same_to_the_user
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import UNLISTED
from troubleshoot.reasoning.planner import Planner

CASES = Path(__file__).parent / "cases"
AT = "2026-01-05T09:00:00"
NOTHING_WRONG = "nothing wrong"
KINDS = ("explains", "not_this")
FOLDERS = sorted(folder.name for folder in CASES.iterdir())
# A cause that has no cases -> the reason.
WITHOUT: dict[str, str] = {}


@pytest.fixture(scope="module")
def assess(rules):
    """A case file and what is believed of it, with one bench for each machine.

    What to do next is not asked here and takes most of the time, so it is left out.
    """
    benches: dict[str, Bench] = {}

    @cache
    def assess(cause, kind):
        case = read_case(CASES / cause / f"{kind}.yaml", rules, AT)
        here = benches.setdefault(case.machine.hash, Bench(rules, case.machine))
        return case, here.assess(case.journal).belief

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Planner, "plan", lambda *_: None)
        yield assess


def order(belief):
    """Causes, nothing wrong and unlisted, likeliest first."""
    chances = {
        **belief.present,
        NOTHING_WRONG: belief.nothing_wrong,
        UNLISTED: belief.unlisted,
    }
    return sorted(chances, key=lambda name: -chances[name])


def place(names, cause, rules):
    """The place of `cause` from 1, causes that are the same to the user counted once."""
    apart: list[str] = []
    for name in names[: names.index(cause)]:
        here = rules.causes.get(name)
        same = [rules.causes[c] for c in (cause, *apart) if c in rules.causes]
        if here is None or not any(same_to_the_user(here, other) for other in same):
            apart.append(name)
    return len(apart) + 1


@pytest.mark.parametrize("cause", FOLDERS)
def test_a_cause_explains_its_case_and_not_the_look_alike(cause, rules, assess):
    """First or second where it is what is wrong, not first where it only looks like it."""
    case, belief = assess(cause, "explains")
    assert case.outcome == {"causes": [cause]}
    names = order(belief)
    assert place(names, cause, rules) <= 2, names[:5]
    case, belief = assess(cause, "not_this")
    assert cause not in case.outcome.get("causes", [])
    names = order(belief)
    assert names[0] != cause, names[:5]
    for really in case.outcome.get("causes", []):
        assert place(names, really, rules) <= 2, names[:5]


def test_every_cause_has_its_two_cases(rules):
    """No cause without cases unless a reason is given, and no cases without a cause."""
    assert set(FOLDERS) | set(WITHOUT) == set(rules.causes)
    assert not set(FOLDERS) & set(WITHOUT)
    for cause in FOLDERS:
        assert sorted(f.name for f in (CASES / cause).iterdir()) == [f"{k}.yaml" for k in KINDS]


def test_a_look_alike_is_a_rival(rules, assess):
    """A look-alike proves something only if the cause could bring its complaint at all."""
    for cause in FOLDERS:
        case, belief = assess(cause, "not_this")
        complaint = next(e.data["complaint"] for e in case.journal if e.kind == "complaint")
        assert complaint in rules.causes[cause].complaints, cause
        assert cause in belief.present, cause


def test_places_are_counted_once_for_causes_that_are_the_same_to_the_user(rules):
    """Alike causes share a place; others, and nothing wrong, take one each."""
    names = ["hair_on_seal", "seal_misseated", NOTHING_WRONG, "pump_worn", "seal_dirty"]
    assert place(names, "seal_dirty", rules) == 3
    assert place(names, "pump_worn", rules) == 3
    assert place(names, "hair_on_seal", rules) == 1
