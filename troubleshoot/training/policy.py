"""The planner's problem solved for a wall: the decision chart of a complaint.

The full policy branches at every set of answers and fits no paper. Within the smaller class of
charts lines are taken greedily by the minutes that they save, in the planner's own terms: the
weights of its hypotheses, its costs, and the price of service for a trouble that is still there at
the end of the list. Of the remedies for which an answer speaks the one with most chance for its
minutes is named (Heckerman, Breese and Rommelse 1995), since one goes on after it. As the planner
does while something is left to look at, no remedy is named whose chance is below `try_from`.
"""

import itertools
from collections.abc import Iterator

import numpy as np

from troubleshoot.case.journal import append
from troubleshoot.knowledge.model import Action
from troubleshoot.reasoning.findings import Floats
from troubleshoot.training.chart import AT, Branch, Chart, Look, Reckoning, Way, opened

LOOKS, BRANCHES = 5, 4
"""So many looks on a way, and branches at a look, before anything is left out for want of room."""
PARTING = 6
"""So many of the planner's first options are tried as the look that parts the trouble in two."""
EACH = 0.15
"""Each way of the two has at least this part of the troubles."""
LONGEST = 30.0
"""Weighted minutes of a look on a chart at most."""
SAID = 2
"""Of so many findings at most the answers stand at one branch, the most telling ones."""
SPEAKS = 1.5
"""An answer speaks for a remedy that it makes this many times as likely to help."""
WORTH = 0.005
"""A branch has to save this many minutes a trouble to be worth its ink."""


def compiled(by: Reckoning) -> tuple[Chart, ...]:
    """The charts of a complaint: the list, and the best two lists that a look has parted."""
    desk = _Desk(by)
    whole = Chart(by.case.complaint, None, (Way((), desk.way(by.w, by.state)),))
    return (whole, *sorted(desk.parted(), key=lambda c: total(by, c))[:1])


def total(by: Reckoning, chart: Chart) -> float:
    """Weighted minutes by the chart, with service for what it does not end."""
    value = by.value(chart)
    return value.minutes + by.price * (1.0 - value.cured)


class _Desk:
    """Where one chart is worked out."""

    def __init__(self, by: Reckoning) -> None:
        self.by, self.rules = by, by.rules
        self.price = by.price
        self.least = by.rules.settings.try_from

    def parted(self) -> Iterator[Chart]:
        """Charts that begin with a look that the planner would begin with."""
        by = self.by
        first = [o.action for o in by.case.plan.options if o.kind == "check"][:PARTING]
        for check in first:
            if check not in by.checks:
                continue
            _, after = by.cost(by.checks[check], by.state)
            for finding in by.asked(by.checks[check]):
                for groups in self._halves(finding):
                    parts = [by.w * by.seen(finding, group) for group in groups]
                    if min(float(w.sum()) for w in parts) >= EACH:
                        ways = (
                            Way(group, self.way(w, after, frozenset({check})))
                            for group, w in zip(groups, parts, strict=True)
                        )
                        other = tuple(
                            Branch(((finding, answer),), "other", name)
                            for answer, name in by.elsewhere(finding).items()
                        )
                        yield Chart(by.case.complaint, (check, finding), tuple(ways), other)

    def _halves(self, finding: str) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
        """The ways to part the answers in two; those that have an order are cut once."""
        entry = self.rules.findings[finding]
        answers = tuple(a for a in entry.answers if a not in self.by.elsewhere(finding))
        if entry.kind != "choice":
            for cut in range(1, len(answers)):
                yield answers[:cut], answers[cut:]
            return
        for size in range(len(answers) - 1):
            for others in itertools.combinations(answers[1:], size):
                these = (answers[0], *others)
                yield these, tuple(a for a in answers if a not in these)

    def way(self, w: Floats, state: str, used: frozenset[str] = frozenset()) -> tuple[Look, ...]:
        """A list of looks for a trouble of weights `w`, taken greedily."""
        looks: list[Look] = []
        left = set(self.by.checks) - used
        for _ in range(LOOKS):
            saves, name = max(
                ((self._saves(self.by.checks[n], w, state), n) for n in sorted(left)),
                default=(0.0, ""),
            )
            ((gain, row),) = self._gains(w[None, :], state)
            if max(saves, gain) <= 0:
                break
            if gain >= saves:
                looks.append(Look(list(self.by.remedies)[row], (), gain))
                w, state = w * (1.0 - self.by.fixes[row]), self.by.proof
                continue
            left.discard(name)
            look, w, state = self._look(self.by.checks[name], w, state)
            looks.append(look)
        return tuple(looks)

    def _saves(self, action: Action, w: Floats, state: str) -> float:
        """Minutes that a look saves as the next and last one of a list (below 0: it costs)."""
        cost, after = self.by.cost(action, state)
        if cost > LONGEST:
            return -1.0
        found = (gain for f in self.by.asked(action) for gain, _ in self._best(f, w, after))
        return sum(max(0.0, gain) for gain in found) - cost * float(w.sum())

    def _best(self, finding: str, w: Floats, state: str) -> list[tuple[float, int]]:
        """For each answer what the best remedy for which it speaks saves, and the remedy's row."""
        before = self.by.fixes @ w / w.sum()
        return self._gains(self.by.answers(finding) * w, state, SPEAKS * before)

    def _gains(
        self, seen: Floats, state: str, least: Floats | float = 0.0
    ) -> list[tuple[float, int]]:
        """For each row of weights what the best remedy saves that is likely enough to help."""
        cured = seen @ self.by.fixes.T
        mass = seen.sum(axis=1)[:, None]
        gains = self.price * cured - self.by.repairs(state)[None, :] * mass
        gains = np.where(cured >= np.maximum(least, self.least) * mass, gains, -np.inf)
        rows = np.where(gains > 0, cured / self.by.repairs(state), gains).argmax(axis=1)
        return [(float(gains[n, row]), int(row)) for n, row in enumerate(rows)]

    def _look(self, action: Action, w: Floats, state: str) -> tuple[Look, Floats, str]:
        """A look with its branches; the weights and the state of who goes on after it."""
        _, after = self.by.cost(action, state)
        gains = {f: self._best(f, w, after) for f in self.by.asked(action)}
        telling = sorted(gains, key=lambda f: (-sum(max(0.0, g) for g, _ in gains[f]), f))
        found: dict[tuple[str, str], list[tuple[float, tuple[str, str]]]] = {}
        for finding in telling:
            names = zip(self.rules.findings[finding].answers, gains[finding], strict=True)
            elsewhere = self.by.elsewhere(finding)
            for answer, (gain, row) in names:
                danger = self._danger(finding, answer)
                if danger is not None:
                    key, gain = ("danger", danger), self.price
                elif answer in elsewhere:
                    key, gain = ("other", elsewhere[answer]), self.price
                elif gain > WORTH:
                    key = ("remedy", list(self.by.remedies)[row])
                else:
                    continue
                lines = found.setdefault(key, [])
                if len({finding, *(f for _, (f, _) in lines)}) <= SAID:
                    lines.append((gain, (finding, answer)))
        branches = [
            Branch(tuple(a for _, a in lines), kind, name, sum(g for g, _ in lines))  # type: ignore[arg-type]
            for (kind, name), lines in found.items()
        ]
        branches.sort(key=lambda b: (-b.saves, b.id))
        look = Look(action.id, tuple(branches[:BRANCHES]))
        return look, self.by.left(look, w), after

    def _danger(self, finding: str, answer: str) -> str | None:
        """The danger that an answer brings, if any."""
        bench = self.by.bench
        journal = opened(bench, self.by.case.complaint)
        journal = append(journal, AT, "finding", bench.rules, finding=finding, answer=answer)
        return bench.deduce(journal).stop
