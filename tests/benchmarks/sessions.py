"""Simulated sessions on the whole rule base: weighted minutes until the complaint is gone.

A truth is drawn from the rule base itself (a cause in proportion to its prior and to how strongly
it raises the complaint; with the complaint's `normal_share`, nothing), answers are drawn from the
cause's own rows, remedies work with their cure probabilities. This measures the order of questions,
not whether the rule base is true.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from troubleshoot.investigation.journal import Journal, append
from troubleshoot.investigation.state import Assessment, Bench
from troubleshoot.reasoning.belief import RECHECK
from troubleshoot.reasoning.planner import ACCEPT, SERVICE, Option

AT = "2026-01-05T09:00:00"
MOST_STEPS = 60
Policy = Callable[[Bench, Assessment], Option]


def follow_plan(bench: Bench, case: Assessment) -> Option:
    """Our own planner."""
    assert case.plan is not None
    return case.plan.next


@dataclass(frozen=True)
class Session:
    """How one simulated session went."""

    complaint: str
    truth: str | None
    minutes: float
    steps: int
    answers: int
    end: str  # "cured", "accepted", "service", "wrongly accepted"
    path: tuple[str, ...]


def opened(bench: Bench, complaint: str) -> Journal:
    """A case of which only the complaint is known."""
    return append((), AT, "complaint", bench.rules, complaint=complaint)


def draw_truth(bench: Bench, complaint: str, rng: random.Random) -> str | None:
    """A single cause, or None for "nothing is wrong"."""
    if rng.random() < bench.rules.complaints[complaint].normal_share:
        return None
    net = bench.planner(complaint).net
    odds = net.prior_odds[:-1] * net.strength[:-1]
    return rng.choices(net.causes, weights=odds.tolist())[0]


def simulate(
    bench: Bench, complaint: str, truth: str | None, policy: Policy, rng: random.Random
) -> Session:
    """Play one session to its end under `policy`."""
    rules = bench.rules
    planner = bench.planner(complaint)
    journal = opened(bench, complaint)
    minutes, path = 0.0, []

    def ended(end: str, more: float = 0.0) -> Session:
        answers = sum(entry.kind == "finding" for entry in journal)
        return Session(complaint, truth, minutes + more, len(path), answers, end, tuple(path))

    for _ in range(MOST_STEPS):
        case = bench.assess(journal)
        assert case.situation is not None
        step = policy(bench, case)
        minutes += step.cost
        path.append(step.action or step.kind)
        if step.kind == SERVICE:
            return ended("service")
        if step.kind == ACCEPT:
            if truth is None:
                return ended("accepted")
            return ended("wrongly accepted", rules.settings.service_minutes)
        assert step.action is not None
        if step.kind == "check":
            journal = _answer(bench, journal, step.action, case, truth, planner, rng)
            continue
        cured = truth is not None and rng.random() < rules.actions[step.action].cures.get(truth, 0)
        what = "gone" if cured else "never_was" if truth is None else "same"
        table = rules.settings.recheck[what]  # type: ignore[index]
        now = rng.choices(RECHECK, weights=[table[a] for a in RECHECK])[0]
        journal = append(journal, AT, "action", rules, action=step.action, complaint_now=now)
        if cured:
            return ended("cured")
    return ended("service", rules.settings.service_minutes)


def _answer(bench, journal, action, case, truth, planner, rng):  # type: ignore[no-untyped-def]
    rules = bench.rules
    net = planner.net
    member = np.array([[net.index[truth] if truth is not None else len(net.causes)]])
    for finding in rules.actions[action].reveals:
        if finding not in net.findings or finding in case.situation.answered:
            continue
        p = net.table(finding).probabilities(member)[0]
        answer = rng.choices(list(rules.findings[finding].answers), weights=p.tolist())[0]
        journal = append(
            journal, AT, "finding", rules, finding=finding, answer=answer, sure="certain"
        )
    return append(journal, AT, "action", rules, action=action)
