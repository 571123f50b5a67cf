"""Troubles played through, by the tool and by a chart: weighted minutes until it is gone.

A truth is drawn from the rules, spread evenly over its odds (systematic sampling, Cochran 1977,
chapter 8); what is seen is drawn once a finding from the rows of the truth, so that both ways see
the same coater; remedies work with their chances, and whether the trouble is gone is seen aright.
Who goes by a chart goes on with the tool at its end, which is told all that was seen. This
compares orders of looking, not rules with coaters. Nothing of it is kept anywhere.
"""

import math
import random
import statistics
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from troubleshoot.case.journal import Journal, append
from troubleshoot.reasoning.planner import ACCEPT, SERVICE
from troubleshoot.training.chart import AT, Branch, Chart, Look, Reckoning, opened

MOST_STEPS = 60


@dataclass(frozen=True)
class Compared:
    """Mean weighted minutes by chart and tool over so many `plays`, and of their difference the
    mean with its standard error; `ended`: the part of the troubles that the chart ends itself."""

    plays: int
    chart: float
    tool: float
    more: float
    error: float
    ended: float


def compared(
    by: Reckoning, chart: Chart, plays: int, tell: Callable[[int], None] = lambda _: None
) -> Compared:
    """Play so many troubles both ways. `tell` hears the number of each play that is done."""
    ours, theirs, ended = [], [], 0
    for n in range(plays):
        truth = drawn(by, (n + 0.5) / plays)
        first, second = _World(by, truth, n), _World(by, truth, n)
        ended += first.down(chart)
        if not first.over:
            first.with_tool()
        second.with_tool()
        ours.append(first.minutes)
        theirs.append(second.minutes)
        tell(n + 1)
    more = [a - b for a, b in zip(ours, theirs, strict=True)]
    error = statistics.stdev(more) / math.sqrt(plays) if plays > 1 else math.inf
    return Compared(
        plays, statistics.fmean(ours), statistics.fmean(theirs),
        statistics.fmean(more), error, ended / plays,
    )  # fmt: skip


def drawn(by: Reckoning, at: float) -> str | None:
    """The truth at a part (0 to 1) of the way through all of them; None: nothing is wrong.

    What is not in the rules cannot be drawn.
    """
    w = np.delete(by.w, 1)
    place = int(np.searchsorted(np.cumsum(w / w.sum()), at))
    return by.planner.net.causes[place - 1] if place else None


@dataclass
class _World:
    """A coater with one hidden truth, and the case of who looks at it."""

    by: Reckoning
    truth: str | None
    seed: int
    minutes: float = 0.0
    over: bool = False
    journal: Journal = ()
    _seen: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.journal = opened(self.by.bench, self.by.case.complaint)
        self.state = self.by.state
        self.left = self.truth

    def _chance(self, *of: object) -> random.Random:
        """Chance that is the same for the same thing in the same play, whenever it is asked."""
        return random.Random(repr((self.seed, *of)))

    def answer(self, finding: str) -> str:
        """What is seen of a finding as long as the truth stays what it is."""
        net = self.by.planner.net
        member = net.index[self.left] if self.left is not None else len(net.causes)
        p = net.table(finding).probabilities(np.array([[member]]))[0]
        answers = list(self.by.rules.findings[finding].answers)
        weights = self.by.can_show(finding, p).tolist()
        return self._chance(finding, self.left).choices(answers, weights=weights)[0]

    def look(self, action: str) -> dict[str, str]:
        """Do a check: all that it shows."""
        doing, case = self.by.rules.actions[action], self.by.bench.assess(self.journal)
        shut = case.situation.answered  # type: ignore[attr-defined]
        found = {
            f: self.answer(f)
            for f in doing.reveals
            if f in self.by.planner.net.findings and f not in shut
        }
        self._pay(action)
        for name, answer in found.items():
            self.journal = append(
                self.journal, AT, "finding", self.by.rules, finding=name, answer=answer
            )
        self.journal = append(self.journal, AT, "action", self.by.rules, action=action)
        return found

    def attempt(self, remedy: str) -> bool:
        """Do a remedy and look whether the trouble is gone."""
        action = self.by.rules.actions[remedy]
        tries = sum(e.data.get("action") == remedy for e in self.journal)
        helps = action.cures.get(self.left or "", 0.0)
        gone = self.left is not None and self._chance(remedy, tries).random() < helps
        self._pay(remedy)
        self.minutes += self.by.planner.move(self.state, self.by.proof)
        self.minutes += self.by.rules.settings.proof_minutes
        self.state = self.by.proof
        now = "cured" if gone else "unchanged"
        self.journal = append(
            self.journal, AT, "action", self.by.rules, action=remedy, complaint_now=now
        )
        if gone:
            self.left, self.over = None, True
        return gone

    def _pay(self, action: str) -> None:
        cost, self.state = self.by.cost(self.by.rules.actions[action], self.state)
        self.minutes += cost

    def down(self, chart: Chart) -> bool:
        """Go by the chart; whether it ended the trouble."""
        way = chart.ways[0]
        if chart.parting is not None:
            check, finding = chart.parting
            seen = self.look(check).get(finding)
            way = next((w for w in chart.ways if seen in w.answers), way)
        return any(self._line(look) for look in way.looks)

    def _line(self, look: Look) -> bool:
        if not look.branches:
            return self.attempt(look.action)
        seen = self.look(look.action)
        for branch in look.branches:
            leads = any(seen.get(finding) == answer for finding, answer in branch.answers)
            if leads and self._off(branch):
                return True
        return False

    def _off(self, branch: Branch) -> bool:
        if branch.kind == "remedy":
            return self.attempt(branch.id)
        self.minutes += self.by.rules.settings.service_minutes
        self.over = True
        return True

    def with_tool(self) -> None:
        """Follow the planner to the end."""
        settings = self.by.rules.settings
        for _ in range(MOST_STEPS):
            case = self.by.bench.assess(self.journal)
            step = case.plan.next  # type: ignore[attr-defined]
            if step.kind == ACCEPT and self.left is None:
                self.minutes += settings.accept_normal_minutes
                return
            if step.kind in (ACCEPT, SERVICE):
                self.minutes += settings.service_minutes
                return
            if step.kind == "check":
                self.look(step.action)
            elif self.attempt(step.action):
                return
        self.minutes += settings.service_minutes
