"""Simulated sessions on the whole rule base: weighted minutes until the complaint is gone.

A truth is drawn from the rule base itself (a cause in proportion to its prior and to how strongly
it raises the complaint; with the complaint's `normal_share`, nothing), answers are drawn from the
cause's own rows, remedies work with their cure probabilities, and what is seen of the complaint
afterwards is drawn as well, so a cure may be taken for none and none for a cure. A case ends when
the policy accepts that all is well, or calls service; that it is cured it has to find out. This
measures the order of questions, not whether the rule base is true.
"""

import random
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.journal import Journal, append
from troubleshoot.knowledge.model import RECHECK
from troubleshoot.reasoning.planner import ACCEPT, SERVICE, Option

AT = "2026-01-05T09:00:00"
MOST_STEPS = 60
Policy = Callable[[Bench, Diagnosis], Option]


def follow_plan(bench: Bench, case: Diagnosis) -> Option:
    """Our own planner."""
    assert case.plan is not None
    return case.plan.next


@dataclass(frozen=True)
class Session:
    """How one simulated session went. `said`: P(nothing is wrong) when that was accepted."""

    complaint: str
    truth: str | None
    minutes: float
    steps: int
    answers: int
    end: str  # "cured", "accepted", "service", "wrongly accepted"
    path: tuple[str, ...]
    said: float | None = None


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
    minutes, path, left = 0.0, [], truth

    def ended(end: str, more: float = 0.0, said: float | None = None) -> Session:
        answers = sum(entry.kind == "finding" for entry in journal)
        return Session(
            complaint, truth, minutes + more, len(path), answers, end, tuple(path), said
        )  # fmt: skip

    for _ in range(MOST_STEPS):
        case = bench.assess(journal)
        assert case.situation is not None
        assert case.belief is not None
        step = policy(bench, case)
        minutes += step.cost
        path.append(step.action or step.kind)
        if step.kind == SERVICE:
            return ended("service")
        if step.kind == ACCEPT:
            said = case.belief.nothing_wrong
            if left is None:
                return ended("accepted" if truth is None else "cured", said=said)
            return ended("wrongly accepted", rules.settings.service_minutes, said)
        assert step.action is not None
        if step.kind == "check":
            journal = _answer(bench, journal, step.action, case, left, planner, rng)
            continue
        cured = left is not None and rng.random() < rules.actions[step.action].cures.get(left, 0)
        what = "gone" if cured else "never_was" if left is None else "same"
        table = rules.settings.recheck[what]  # type: ignore[index]
        now = rng.choices(RECHECK, weights=[table[a] for a in RECHECK])[0]
        journal = append(journal, AT, "action", rules, action=step.action, complaint_now=now)
        left = None if cured else left
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
