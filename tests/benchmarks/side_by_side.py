"""Whole sessions of a lab's cases as a tree to be dealt (`dealt.mean_cost`).

The same game as `sessions.simulate`, but nobody knows what is behind a case: a node holds the
journal and how likely each cause still is in the lab's own frequencies, given all that was seen so
far (and whether a remedy cured it, unseen). An outcome is an answer, or what is seen of the
complaint after a remedy; its probability is the sum over the causes, and a call for service after
"nothing is wrong" was wrongly accepted costs by how likely it was wrong. What the policy does in a
situation is kept, since sessions meet the same situations again.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tests.benchmarks.dealt import Met
from tests.benchmarks.sessions import AT, MOST_STEPS, Policy, follow_plan, opened
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.journal import Journal, append
from troubleshoot.reasoning.belief import RECHECK
from troubleshoot.reasoning.decision import Problem
from troubleshoot.reasoning.findings import Floats
from troubleshoot.reasoning.planner import ACCEPT, SERVICE


@dataclass(frozen=True)
class Standing:
    """Where sessions stand. `left`: weight of each cause of the complaint's network as still there,
    and last that nothing is wrong or all is cured. `asked`: findings that the check under way
    (`check`) has yet to tell; `steps` were taken.
    """

    complaint: str
    journal: Journal
    left: Floats
    steps: int = 0
    check: str = ""
    asked: tuple[str, ...] = ()


WRONGLY = "wrongly"
Chosen = tuple[str, str | None]
"""Kind and action of a move."""
Move = tuple[str, str, float, tuple[str, ...]]
"""Kind, action, cost, and the findings that a check would tell."""


class Sessions:
    """The tree of all sessions with one bench, by our own planner or another policy."""

    def __init__(self, bench: Bench, policy: Policy = follow_plan) -> None:
        self.bench, self.policy = bench, policy
        self._moves: dict[str, Move] = {}
        self._known: dict[str, Problem] = {}

    def start(self, complaint: str, ends: Mapping[str, float]) -> Standing:
        """Nothing is known but the complaint; `ends`: by cause, anything else is nothing wrong."""
        net = self.bench.planner(complaint).net
        left = np.zeros(len(net.causes) + 1)
        for end, p in ends.items():
            left[net.index.get(end, -1)] += p
        return Standing(complaint, opened(self.bench, complaint), left)

    def meet(self, at: Standing) -> Met[Standing]:
        """The policy's next move, or the next finding of the check under way."""
        if at.asked:
            return Met(0.0, self._answers(at))
        settings = self.bench.rules.settings
        if at.steps == MOST_STEPS:
            return Met(settings.service_minutes)
        kind, action, cost, findings = self._move(at.journal)
        if kind == SERVICE:
            return Met(cost)
        if kind == ACCEPT:
            wrong = 1.0 - at.left[-1] / at.left.sum()
            return Met(cost + wrong * settings.service_minutes)
        after = replace(at, steps=at.steps + 1, check=action, asked=findings)
        if kind == "check":
            return Met(cost, [(action, 1.0, after if findings else self._checked(after))])
        return Met(cost, self._remedied(after, action))

    def move(self, at: Standing) -> Move | None:
        """The move that is made there; None amid a check, and where it went on for too long."""
        return None if at.asked or at.steps == MOST_STEPS else self._move(at.journal)

    def guess(self, at: Standing) -> float:
        """What is still to be paid, roughly: the right way to end it, and to learn which it is."""
        problem = self._problem(at.complaint)
        w = np.array([[at.left[-1], 0.0, *at.left[:-1]]]) / at.left.sum()
        return float(problem.rest(w, np.ones(1))[0])

    def _problem(self, complaint: str) -> Problem:
        if complaint not in self._known:
            case = self.bench.assess(opened(self.bench, complaint))
            planner = case.planner
            remedies = [
                n
                for n, action in enumerate(planner.actions)
                if planner.fixes[n].any() and planner.open(action, case.situation)
            ]
            all_ = np.ones(planner.size, dtype=bool)
            a_bit = self.bench.rules.settings.minutes_a_bit
            self._known[complaint] = planner._problem(
                all_, [], remedies, case.situation, a_bit, 0.0
            )
        return self._known[complaint]

    def _move(self, journal: Journal) -> Move:
        known = _known(journal)
        if known not in self._moves:
            case = self.bench.assess(journal)
            step = self.policy(self.bench, case)
            told: tuple[str, ...] = ()
            if step.kind == "check":
                told = tuple(
                    f
                    for f in self.bench.rules.actions[step.action].reveals
                    if f in case.planner.net.findings and f not in case.situation.answered
                )
            self._moves[known] = step.kind, step.action or "", step.cost, told
        return self._moves[known]

    def _answers(self, at: Standing) -> list[tuple[str, float, Standing]]:
        rules, net = self.bench.rules, self.bench.planner(at.complaint).net
        finding, *rest = at.asked
        single = np.arange(len(at.left), dtype=np.intp)[:, None]
        p = net.table(finding).probabilities(single)
        out = []
        for n, answer in enumerate(rules.findings[finding].answers):
            left = at.left * p[:, n]
            if left.any():
                said = append(
                    at.journal, AT, "finding", rules, finding=finding, answer=answer,
                    sure="certain",
                )  # fmt: skip
                after = replace(at, journal=said, left=left, asked=tuple(rest))
                out.append((answer, left.sum(), after if rest else self._checked(after)))
        return out

    def _checked(self, at: Standing) -> Standing:
        done = append(at.journal, AT, "action", self.bench.rules, action=at.check)
        return replace(at, journal=done)

    def _remedied(self, at: Standing, action: str) -> list[tuple[str, float, Standing]]:
        rules, net = self.bench.rules, self.bench.planner(at.complaint).net
        cures = np.zeros_like(at.left)
        for cause, p in rules.actions[action].cures.items():
            if cause in net.index:
                cures[net.index[cause]] = p
        out = []
        for now in RECHECK:
            seen = {what: table[now] for what, table in rules.settings.recheck.items()}
            left = at.left * (1.0 - cures) * seen["same"]
            left[-1] = at.left[-1] * seen["never_was"] + at.left @ cures * seen["gone"]
            done = append(at.journal, AT, "action", rules, action=action, complaint_now=now)
            out.append((f"{action} {now}", left.sum(), replace(at, journal=done, left=left)))
        return out


class Part:
    """Sessions, of which only the moves of one kind cost: "check", "remedy", `SERVICE`, `ACCEPT`.

    Or, of kind `WRONGLY`, only what it costs that "nothing is wrong" was accepted wrongly.
    """

    def __init__(self, played: Sessions, kind: str) -> None:
        self.played, self.kind = played, kind

    def meet(self, at: Standing) -> Met[Standing]:
        """As `Sessions.meet`, with that part of the cost."""
        met, move = self.played.meet(at), self.played.move(at)
        kind, cost = (move[0], move[2]) if move else (SERVICE, met.cost)
        if self.kind == WRONGLY:
            return Met(met.cost - cost, met.outcomes)
        return Met(cost if kind == self.kind else 0.0, met.outcomes)


class Known:
    """What a bench with the lab's own rates would do in a situation, and what each move is worth.

    Kept, since the policies held against it meet the same situations. That nothing is wrong
    is worth what the simulation charges for it where the bench would not yet say so itself.
    """

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self._best: dict[str, Chosen] = {}
        self._worth: dict[str, dict[Chosen, float]] = {}

    def dearer(self, journal: Journal, kind: str, action: str | None) -> float:
        """How much more this move costs there than the best one, as its planner values both."""
        here, move, case = _known(journal), (kind, action), None
        if here not in self._best:
            case = self.bench.assess(journal)
            self._best[here] = case.plan.next.kind, case.plan.next.action
        best = self._best[here]
        if move == best:
            return 0.0
        if here not in self._worth:
            self._worth[here] = self._values(case or self.bench.assess(journal))
        worth, dearest = self._worth[here], self.bench.rules.settings.service_minutes
        return worth.get(move, dearest) - worth.get(best, dearest)

    def _values(self, case: Diagnosis) -> dict[Chosen, float]:
        planner, situation, settings = case.planner, case.situation, self.bench.rules.settings
        w = planner.weights(case.belief)
        rows = [n for n, a in enumerate(planner.actions) if planner.open(a, situation)]
        checks = planner._checks(w, rows, situation)
        remedies = [n for n in rows if planner.fixes[n].any()]
        a_bit = settings.minutes_a_bit if checks else None
        weighed = planner._weigh(w, list(checks.items()), remedies, situation, a_bit, 0.0)
        worth: dict[Chosen, float] = {(o.kind, o.action): o.expected for o in weighed.options}
        wrong = 1.0 - w[0] / w.sum()
        told_wrongly = settings.accept_normal_minutes + wrong * settings.service_minutes
        worth.setdefault((ACCEPT, None), told_wrongly)
        return worth


class Lost:
    """Sessions, of which each move costs what is lost by not knowing the lab's own rates.

    That is how much dearer it is than the move that a bench with those rates would make there: both
    as its planner values them, looking ahead. Summed over a session it is how much longer the
    session is (the performance difference lemma: Kakade and Langford 2002, ICML, 267-274), as far
    as the planner's values are true. It is nothing wherever both do the same, so that it hangs on
    little luck.
    """

    def __init__(self, played: Sessions, known: Known) -> None:
        self.played, self.known = played, known

    def meet(self, at: Standing) -> Met[Standing]:
        """As `Sessions.meet`, with what is lost as the cost."""
        met, move = self.played.meet(at), self.played.move(at)
        lost = self.known.dearer(at.journal, move[0], move[1] or None) if move else 0.0
        return Met(lost, met.outcomes)


def _known(journal: Journal) -> str:
    """What a policy knows of a case: the same for cases in which the same was said."""
    return repr([(entry.kind, entry.data) for entry in journal])
