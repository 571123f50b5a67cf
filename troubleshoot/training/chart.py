"""A decision chart: a few looks in a fixed order, and what it takes on average to go by it.

A chart may begin with one look that parts the trouble in two, and then goes down a list. An answer
may name a remedy; with all others, and when the remedy did not help, one goes on down the list. An
answer that the trouble cannot give (`rather`) names the trouble that it is instead; who has this
one does not see it, so it takes nothing.
What it takes is worked out exactly over the planner's hypotheses (nothing wrong, unlisted, each
cause by itself), with the planner's answers, costs and cures.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.journal import Journal, append
from troubleshoot.case.relevance import other_trouble
from troubleshoot.knowledge.model import Action
from troubleshoot.reasoning.findings import Floats
from troubleshoot.reasoning.planner import Planner

AT = "2026-01-01T00:00:00"
Line = tuple[int, int, int]
"""Where a line of a chart stands: its way, look and branch."""


@dataclass(frozen=True)
class Branch:
    """Answers (finding, answer) after which this is done: a remedy, or the stop of a danger; or
    which show that it is another trouble.

    `saves`: the minutes a trouble that were reckoned for it when it was put there.
    """

    answers: tuple[tuple[str, str], ...]
    kind: Literal["remedy", "danger", "other"]
    id: str
    saves: float = 0.0


@dataclass(frozen=True)
class Look:
    """A check and the answers after which something is done; with all others one goes on.

    Without branches it is a remedy that is tried straight away. `saves` as for a branch.
    """

    action: str
    branches: tuple[Branch, ...]
    saves: float = 0.0


@dataclass(frozen=True)
class Way:
    """A list of looks that one goes down; `answers` of the parting look that lead here."""

    answers: tuple[str, ...]
    looks: tuple[Look, ...]


@dataclass(frozen=True)
class Chart:
    """A decision chart. `parting`: (check, finding) of the look that parts the ways, if any;
    `elsewhere`: what it may show that belongs to other troubles."""

    complaint: str
    parting: tuple[str, str] | None
    ways: tuple[Way, ...]
    elsewhere: tuple[Branch, ...] = ()

    def lines(self) -> list[Line]:
        """Every branch, and every remedy that stands by itself, what saves most first."""
        found = [
            (-line.saves, (w, n, m))
            for w, way in enumerate(self.ways)
            for n, look in enumerate(way.looks)
            for m, line in enumerate(_lines(look))
        ]
        return [line for _, line in sorted(found)]

    def only(self, kept: Collection[Line]) -> "Chart":
        """The chart with these lines alone: the answers of the others go on."""
        ways = []
        for w, way in enumerate(self.ways):
            looks = []
            for n, look in enumerate(way.looks):
                branches = tuple(b for m, b in enumerate(look.branches) if (w, n, m) in kept)
                if branches or (not look.branches and (w, n, 0) in kept):
                    looks.append(replace(look, branches=branches))
            ways.append(replace(way, looks=tuple(looks)))
        return replace(self, ways=tuple(ways))


def _lines(look: Look) -> Sequence[Branch | Look]:
    return look.branches or (look,)


@dataclass(frozen=True)
class Value:
    """Weighted minutes that a chart takes on average, and the part of the troubles that it ends.

    Those that a danger stops count as ended, at the price of service.
    """

    minutes: float
    cured: float


def opened(bench: Bench, complaint: str) -> Journal:
    """A case of which only the complaint is known."""
    return append((), AT, "complaint", bench.rules, complaint=complaint)


class Reckoning:
    """The planner's numbers for a complaint of which nothing else is known.

    `w`: the weight of each hypothesis, summing to 1; `fixes`: P(cured) by remedy and hypothesis;
    `price`: the weighted minutes of service.
    Raises `UserError` where nothing on this coater can raise the complaint.
    """

    def __init__(self, bench: Bench, complaint: str) -> None:
        self.bench, self.rules = bench, bench.rules
        self.case: Diagnosis = bench.diagnose(bench.deduce(opened(bench, complaint)))
        self.planner: Planner = self.case.planner
        w = self.planner.weights(self.case.belief)
        self.w: Floats = w / w.sum()
        row = {a.id: n for n, a in enumerate(self.planner.actions)}
        may = [a for a in self.planner.actions if self.case.may(a.id)]
        self.checks = {a.id: a for a in may if a.kind == "check" and self.asked(a)}
        self.remedies = {a.id: a for a in may if self.planner.fixes[row[a.id]].any()}
        self.fixes: Floats = self.planner.fixes[[row[name] for name in self.remedies]]
        self.state = self.case.known.state
        self.price = self.rules.settings.service_minutes
        at_microscope = self.rules.complaints[complaint].place == "microscope"
        self.proof = "in_sem" if at_microscope else "pumped"
        self._repairs: dict[str, Floats] = {}
        self._answers: dict[str, Floats] = {}

    def asked(self, action: Action) -> list[str]:
        """The findings of a check that make sense to ask."""
        shut = self.case.situation.answered
        return [f for f in action.reveals if f in self.planner.net.findings and f not in shut]

    def elsewhere(self, finding: str) -> dict[str, str]:
        """The answers that this trouble cannot give, each with the trouble that it is instead."""
        told = {
            answer: other_trouble(self.rules, self.case.complaint, [(finding, answer)], ())
            for answer in self.rules.findings[finding].answers
        }
        return {answer: other for answer, other in told.items() if other is not None}

    def can_show(self, finding: str, chances: Floats) -> Floats:
        """P(answer | ...), shape (answers, ...), once what this trouble cannot show is left out."""
        shut = self.elsewhere(finding)
        kept = np.array([a not in shut for a in self.rules.findings[finding].answers])
        left: Floats = (chances.T * kept).T
        return left / left.sum(axis=0)

    def answers(self, finding: str) -> Floats:
        """P(answer | hypothesis), shape (answers, hypotheses), of those that it can show."""
        if finding not in self._answers:
            self._answers[finding] = self.can_show(finding, self.planner.answers(finding))
        return self._answers[finding]

    def seen(self, finding: str, answers: tuple[str, ...]) -> Floats:
        """P(one of these answers | hypothesis)."""
        names = list(self.rules.findings[finding].answers)
        return self.answers(finding)[[names.index(a) for a in answers]].sum(axis=0)

    def cost(self, action: Action, state: str) -> tuple[float, str]:
        """Weighted minutes of an action from a state, and the state that it leaves."""
        role = self.case.situation.role
        return self.planner.cost(action, state, role), self.planner.state_after(action, state)

    def repairs(self, state: str) -> Floats:
        """Weighted minutes of each remedy from a state, with the look whether it helped."""
        if state not in self._repairs:
            looking = self.rules.settings.proof_minutes
            costs = (self.cost(action, state) for action in self.remedies.values())
            self._repairs[state] = np.array(
                [cost + self.planner.move(after, self.proof) + looking for cost, after in costs]
            )
        return self._repairs[state]

    def value(self, chart: Chart) -> Value:
        """What going by the chart takes, exactly."""
        if chart.parting is None:
            return self._down(chart.ways[0], self.w, self.state)
        check, finding = chart.parting
        cost, state = self.cost(self.rules.actions[check], self.state)
        parts = [
            self._down(way, self.w * self.seen(finding, way.answers), state) for way in chart.ways
        ]
        return Value(cost + sum(p.minutes for p in parts), sum(p.cured for p in parts))

    def _down(self, way: Way, w: Floats, state: str) -> Value:
        minutes = cured = 0.0
        for look in way.looks:
            before = w
            if look.branches:
                cost, state = self.cost(self.rules.actions[look.action], state)
                minutes += cost * float(w.sum())
            for branch in look.branches or (Branch((), "remedy", look.action),):
                off, w = self._off(branch, w)
                if branch.kind != "remedy":
                    minutes += self.rules.settings.service_minutes * float(off.sum())
                else:
                    row = list(self.remedies).index(branch.id)
                    minutes += float(self.repairs(state)[row]) * float(off.sum())
            cured += float((before - w).sum())
            state = state if look.branches else self.proof
        return Value(minutes, cured)

    def left(self, look: Look, w: Floats) -> Floats:
        """The weights of who goes on after a look."""
        for branch in look.branches:
            _, w = self._off(branch, w)
        return w

    def _off(self, branch: Branch, w: Floats) -> tuple[Floats, Floats]:
        """The weights of those whom a branch takes off the way, and of who goes on after it."""
        off = w * (1.0 - self._stays(branch)) if branch.answers else w
        if branch.kind != "remedy":
            return off, w - off
        return off, w - off * self.fixes[list(self.remedies).index(branch.id)]

    def _stays(self, branch: Branch) -> Floats:
        """P(none of the branch's answers | hypothesis)."""
        stay = np.ones_like(self.w)
        for finding in dict.fromkeys(f for f, _ in branch.answers):
            stay *= 1.0 - self.seen(finding, tuple(a for f, a in branch.answers if f == finding))
        return stay
