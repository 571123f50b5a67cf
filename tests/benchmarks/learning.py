"""Does a lab's own book help? `python -m tests.benchmarks.learning`.

A lab is made whose faults come with other frequencies than the rule base's: the share of each cause
and of "nothing is wrong" is multiplied by exp(sigma z), z standard normal. Some closed cases of it,
proved, are kept in a casebook, and the learnt book is held against the shipped rates on new cases
of the same lab: by the log score of what it was (mean ln P, after a few answers), and by the
weighted minutes of whole simulated sessions. The same new cases and the same luck for each. It
tests the learning, not whether the rule base is true.
"""

import argparse
import datetime
import math
import random
from collections.abc import Mapping, Sequence

import numpy as np

from tests.benchmarks import sessions
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import Entry
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.tally import tally
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.reasoning.belief import Epoch, Evidence, Observation, posterior
from troubleshoot.reasoning.learned import NOTHING_WRONG, UNLISTED, Tally, ends_by_rules
from troubleshoot.reasoning.planner import Planner

AT = "2026-01-05T09:00:00"
ANSWERS = 3
Case = tuple[str, str]
"""A complaint, and what it was: a cause or `NOTHING_WRONG`."""


class Lab:
    """A lab with frequencies of its own: P(end | complaint), and how often each complaint comes."""

    def __init__(self, rules: RuleBase, sigma: float, seed: int) -> None:
        rng = random.Random(f"lab {seed}")
        moved = {c: math.exp(sigma * rng.gauss(0, 1)) for c in (*rules.causes, NOTHING_WRONG)}
        self.ends: dict[str, dict[str, float]] = {}
        self.often: dict[str, float] = {}
        for complaint in rules.complaints:
            ends = ends_by_rules(rules, Machine(), complaint)
            ends.pop(UNLISTED)
            weight = {end: p * moved[end] for end, p in ends.items()}
            total = sum(weight.values())
            self.ends[complaint] = {end: w / total for end, w in weight.items()}
            self.often[complaint] = sum(
                c.share * moved[c.id] * c.complaints.get(complaint, 0.0)
                for c in rules.causes.values()
            )

    def draw(self, cases: int, rng: random.Random) -> list[Case]:
        """New cases of this lab."""
        complaints = rng.choices(list(self.often), list(self.often.values()), k=cases)
        return [
            (q, rng.choices(list(self.ends[q]), list(self.ends[q].values()))[0]) for q in complaints
        ]


def book_of(cases: Sequence[Case], rules: RuleBase) -> Tally:
    """What is learnt from these cases, closed, proved and kept in a casebook."""
    store = Store("sqlite://")
    for complaint, end in cases:
        normal = end == NOTHING_WRONG
        closed = {"outcome": "normal"} if normal else {"outcome": "cured", "cause": end}
        closed |= {"proved_by": "fault seen"}
        journal = (
            Entry(0, AT, "complaint", {"complaint": complaint}), Entry(1, AT, "closed", closed),
        )  # fmt: skip
        store.new_case("", AT, Machine(), entries=journal)
    return tally(store, Machine().name, AT, rules.settings)


class LearntBench(Bench):
    """A bench that reckons with a book in every case."""

    def __init__(self, rules: RuleBase, book: Tally) -> None:
        super().__init__(rules, Machine())
        self.book = book

    def planner(self, complaint: str, book: Tally | None = None) -> Planner:
        return super().planner(complaint, self.book if self.book.cases else None)


def log_scores(bench: Bench, cases: Sequence[Case], seed: int) -> list[float]:
    """ln P(what it was) of each case, after a few answers drawn from the cause's rows."""
    out = []
    for n, (complaint, end) in enumerate(cases):
        rng = random.Random(f"{seed} {n}")
        net = bench.planner(complaint).net
        evidence = Evidence(complaint, {}, (Epoch(_told(net, end, rng)),))
        said = posterior(net, evidence)
        out.append(math.log(said.nothing_wrong if end == NOTHING_WRONG else said.shares[end]))
    return out


def _told(net, end, rng):  # type: ignore[no-untyped-def]
    bearing = [f for f in net.findings if (end, f) in net.rules.rows] or list(net.findings)
    member = np.array([[net.index[end] if end in net.index else len(net.causes)]])
    told = []
    for finding in rng.sample(sorted(bearing), min(ANSWERS, len(bearing))):
        p = net.table(finding).probabilities(member)[0].tolist()
        answer = rng.choices(range(len(p)), p)[0]
        told.append(Observation(finding, tuple(float(n == answer) for n in range(len(p)))))
    return tuple(told)


def minutes(bench: Bench, cases: Sequence[Case], seed: int) -> list[float]:
    """The weighted minutes of a whole session of each case."""
    return [
        sessions.simulate(
            bench, complaint, None if end == NOTHING_WRONG else end, sessions.follow_plan,
            random.Random(f"{seed} {n} session"),
        ).minutes
        for n, (complaint, end) in enumerate(cases)
    ]  # fmt: skip


def interval(differences: Sequence[float]) -> str:
    """The mean of paired differences with its 95 % interval."""
    d = np.array(differences)
    half = 1.96 * d.std(ddof=1) / math.sqrt(len(d))
    return f"{d.mean():+.3f} ({d.mean() - half:+.3f} to {d.mean() + half:+.3f})"


def main() -> None:
    parse = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parse.add_argument("--new", type=int, default=500)
    parse.add_argument("--sigma", type=float, default=1.0)
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--played", type=int, default=500, help="of the new cases, whole sessions")
    given = parse.parse_args()
    rules, seed = load(), given.seed
    lab = Lab(rules, given.sigma, seed)
    new = lab.draw(given.new, random.Random(f"new {seed}"))
    played = new[: given.played]
    shipped = LearntBench(rules, Tally())
    score, spent = log_scores(shipped, new, seed), minutes(shipped, played, seed)
    print(
        f"Rules {rules.hash}, {datetime.date.today()}, sigma {given.sigma:g}, seed {seed}; "
        f"{len(new)} new cases, {len(spent)} of them played whole. Shipped rates: log score "
        f"{np.mean(score):.3f}, {np.mean(spent):.1f} minutes.\n"
    )
    print("| closed cases | log score | gain (95 %) | minutes | more minutes (95 %) |")
    print("|---|---|---|---|---|", flush=True)
    for cases in (30, 200):
        closed = lab.draw(200, random.Random(f"closed {seed}"))[:cases]
        learnt = LearntBench(rules, book_of(closed, rules))
        now, took = log_scores(learnt, new, seed), minutes(learnt, played, seed)
        gain = interval([b - a for a, b in zip(score, now, strict=True)])
        more = interval([b - a for a, b in zip(spent, took, strict=True)])
        print(
            f"| {cases} | {np.mean(now):.3f} | {gain} | {np.mean(took):.1f} | {more} |", flush=True
        )


def expected_score(world: Mapping[str, float], said: Mapping[str, float]) -> float:
    """The mean of ln P(what it was) over the ends of a complaint in a world, exactly."""
    return sum(p * math.log(said[end]) for end, p in world.items())


if __name__ == "__main__":
    main()
