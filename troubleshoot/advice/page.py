"""Everything that is said of a case, on one frozen record.

Terminal, JSON and HTML only render it, so that a rule that holds in one holds in all.
"""

from dataclasses import dataclass

from troubleshoot.advice import instruction
from troubleshoot.advice.instruction import Box, Instruction, boxes, site_of
from troubleshoot.advice.outcomes import Outcome, outcomes
from troubleshoot.advice.step import NextStep, in_force, next_step
from troubleshoot.advice.today import Today, of_bans, today_of
from troubleshoot.advice.verdict import (
    CURED,
    DANGER,
    MATTERS,
    Mended,
    Verdict,
    mended,
    remedies_of,
    verdict,
)
from troubleshoot.advice.why import (
    Grounds,
    HowFirm,
    View,
    clash,
    grounds,
    how_firm,
    ranked,
    view,
    would_change,
)
from troubleshoot.case.deduce import Deduction
from troubleshoot.case.diagnose import Diagnosis
from troubleshoot.case.journal import Journal


@dataclass(frozen=True)
class Bar:
    """One line of the chart of causes. `named` is False for the three kinds of something else."""

    name: str
    what: str
    part: float
    named: bool


@dataclass(frozen=True)
class Cure:
    """What puts the leading cause right. `above`: its steps already stand under the next step."""

    do: Instruction
    above: bool
    others: tuple[str, ...]


@dataclass(frozen=True)
class Found:
    """What can be said once there is a complaint.

    `change` is the one answer that would put something else first; `bars` are the leading causes
    and the rest, `mended` what a remedy took away before, `remedy` what puts the verdict right,
    `outcomes` what those of the next step would mean.
    """

    verdict: Verdict
    view: View
    firm: HowFirm
    clash: str | None
    change: str | None
    bars: tuple[Bar, ...]
    bystanders: tuple[Bar, ...]
    mended: tuple[Mended, ...]
    remedy: Cure | None
    grounds: Grounds | None
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True)
class CasePage:
    """A case as it is shown: `found` and `today` are None before a complaint is given.

    `cautions` in force, first what stops everything; `dangers` what must be repaired and proved;
    `ways` round for today.
    """

    case: Deduction
    journal: Journal
    step: NextStep
    cautions: tuple[Box, ...]
    dangers: tuple[Box, ...]
    today: Today | None
    ways: tuple[Instruction, ...]
    found: Found | None


def page_of(case: Deduction, journal: Journal) -> CasePage:
    """The page of a case, with everything that its front ends show."""
    step, site = next_step(case), site_of(case)
    today = today_of(case) if isinstance(case, Diagnosis) else of_bans(case)
    ways = today.ways if today else ()
    return CasePage(
        case=case,
        journal=journal,
        step=step,
        cautions=boxes(site, in_force(case, step)),
        dangers=boxes(site, dict.fromkeys((*case.stops, *case.dangers))),
        today=today,
        ways=tuple(instruction.for_way(site, case.rules.workarounds[w]) for w in ways),
        found=_found(case, journal, step) if isinstance(case, Diagnosis) else None,
    )


def _found(case: Diagnosis, journal: Journal, step: NextStep) -> Found:
    said, seen = verdict(case), view(case)
    leads = said.hypothesis in case.rules.causes
    return Found(
        verdict=said,
        view=seen,
        firm=how_firm(case, said),
        clash=clash(case),
        # For "nothing is wrong" the single answer that swaps two unlikely causes is no news.
        change=would_change(case) if leads else None,
        bars=leading(case, seen),
        bystanders=bystanders(case, seen),
        mended=mended(case, seen.belief),
        remedy=_cure(case, said, step),
        grounds=grounds(case, journal, seen),
        outcomes=outcomes(case, step),
    )


def _cure(case: Diagnosis, said: Verdict, step: NextStep) -> Cure | None:
    """What to do about the verdict: the next remedy of its cause, or the last one when cured."""
    rules = case.rules
    done = [d.action for d in case.known.treatments if d is not None]
    if said.hypothesis == CURED:
        wanted = done[-1:]
    elif said.hypothesis == DANGER:
        wanted = [a for a in rules.cautions[case.dangers[0]].repair if case.may(a)]
    elif said.hypothesis in rules.causes:
        allowed = remedies_of(case, rules.causes[said.hypothesis])
        wanted = [a.id for a in allowed if a.id not in done]
        # The planner's choice first: it knows costs and what is out of reach.
        wanted.sort(key=lambda a: a != step.id)
    else:
        wanted = []
    if not wanted:
        return None
    return Cure(
        do=instruction.for_action(site_of(case), rules.actions[wanted[0]]),
        above=step.id == wanted[0],
        others=tuple(rules.actions[a].name for a in wanted[1:]),
    )


def bystanders(case: Diagnosis, seen: View) -> tuple[Bar, ...]:
    """Likely causes that cannot raise this complaint: worth mending, no explanation of it."""
    causes, complaint = case.rules.causes, seen.evidence.complaint
    return tuple(
        Bar(causes[c].name, causes[c].what, p, True)
        for c, p in seen.belief.present.items()
        if complaint not in causes[c].complaints and p >= MATTERS
    )


def leading(case: Diagnosis, seen: View) -> tuple[Bar, ...]:
    """The leading causes, then the rest, nothing wrong and a cause not in this rule base."""
    belief, first = seen.belief, ranked(case, seen)
    names = {cause.id for cause, _ in first}
    complaint = seen.evidence.complaint
    others = {c.id for c in case.rules.causes.values() if complaint in c.complaints} - names
    rest = sum(
        p
        for members, p in belief.sets
        if others.intersection(members) and not names.intersection(members)
    )
    return (
        *(Bar(cause.name, cause.what, p, True) for cause, p in first),
        Bar("Any other cause in this rule base", "", rest, False),
        Bar("Nothing is wrong", "What is seen is as it should be.", belief.nothing_wrong, False),
        Bar("A cause not in this rule base", "", belief.unlisted, False),
    )
