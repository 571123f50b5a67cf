"""Does a lab's own book help? `python -m tests.benchmarks.learning`.

A lab is made whose faults come with other frequencies than the rule base's: the share of each cause
and of "nothing is wrong" is multiplied by exp(sigma z), z standard normal. Some closed cases of it,
proved, are kept in a casebook, and the learnt book is held against the shipped rates on new cases
of the same lab: by the log score of what it was (mean ln P, after a few answers), and by the
weighted minutes of whole simulated sessions (`side_by_side`): the complaints are strata, each with
its part of the sessions, and within one all chance is dealt out. The same cases and the same luck
for each book; how much the luck matters is told by several rounds. With `--lost P` it sums instead
what is lost by not knowing the lab's own rates (`side_by_side.Lost`) in all situations that come up
at least so often, exactly and without any luck. It tests the learning, not whether the rule base is
true.
"""

import argparse
import datetime
import math
import random
import time
from collections.abc import Mapping, Sequence

import numpy as np

from tests.benchmarks.dealt import likely_cost, mean_and_half, mean_cost, over_strata
from tests.benchmarks.side_by_side import Lost, Sessions
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
        often: dict[str, float] = {}
        for complaint in rules.complaints:
            ends = ends_by_rules(rules, Machine(), complaint)
            ends.pop(UNLISTED)
            weight = {end: p * moved[end] for end, p in ends.items()}
            total = sum(weight.values())
            self.ends[complaint] = {end: w / total for end, w in weight.items()}
            often[complaint] = sum(
                c.share * moved[c.id] * c.complaints.get(complaint, 0.0)
                for c in rules.causes.values()
            )
        self.often = {q: share / sum(often.values()) for q, share in often.items()}

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


def all_of(lab: Lab, rules: RuleBase) -> Tally:
    """What a lab would know that had closed a million cases of each complaint."""
    here = {}
    for complaint, ends in lab.ends.items():
        unlisted = ends_by_rules(rules, Machine(), complaint)[UNLISTED]
        here[complaint] = {end: 1e6 * (1.0 - unlisted) * p for end, p in ends.items()}
        here[complaint][UNLISTED] = 1e6 * unlisted
        # Nobody proves that nothing was wrong: a casebook counts such a case in part.
        here[complaint][NOTHING_WRONG] *= rules.settings.learn_unproved
    return Tally(here, cases=1)


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


def minutes(played: Sessions, lab: Lab, sessions: int, seed: str) -> list[float]:
    """The mean weighted minutes of whole sessions of new cases, of each complaint of the lab.

    Each complaint gets its part of the sessions, and at least one.
    """
    return [
        mean_cost(
            played.start(q, lab.ends[q]),
            played.meet,
            max(1, round(sessions * often)),
            f"{seed} {q} ",
            played.guess,
        )
        for q, often in lab.often.items()
    ]


def main() -> None:
    parse = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parse.add_argument("--new", type=int, default=500, help="new cases that are scored")
    parse.add_argument("--played", type=int, default=500, help="sessions a round")
    parse.add_argument("--rounds", type=int, default=4)
    parse.add_argument(
        "--lost",
        type=float,
        metavar="P",
        help="instead, what is lost in situations at least this likely",
    )
    parse.add_argument("--closed", type=int, nargs="+", default=[30, 200])
    parse.add_argument("--sigma", type=float, default=1.0)
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--within", type=float, default=math.inf, help="hours to begin a round in")
    given = parse.parse_args()
    start, rules, seed = time.monotonic(), load(), given.seed
    lab = Lab(rules, given.sigma, seed)
    new = lab.draw(given.new, random.Random(f"new {seed}"))
    closed = lab.draw(max(given.closed), random.Random(f"closed {seed}"))
    shipped = LearntBench(rules, Tally())
    books = {n: LearntBench(rules, book_of(closed[:n], rules)) for n in given.closed}
    print(
        f"Rules {rules.hash}, {datetime.date.today()}, sigma {given.sigma:g}, seed {seed}; "
        f"{given.new} new cases scored, {given.played} sessions a round.\n"
    )
    score = log_scores(shipped, new, seed)
    print(f"Shipped rates: log score {np.mean(score):.3f}.")
    for n, bench in books.items():
        gains = [b - a for a, b in zip(score, log_scores(bench, new, seed), strict=True)]
        mean, half = mean_and_half(gains)
        print(f"{n} closed cases: {mean:+.3f} ({mean - half:+.3f} to {mean + half:+.3f}).")
    if given.lost is not None:
        _tell_lost({0: shipped, **books}, LearntBench(rules, all_of(lab, rules)), lab, given.lost)
        return
    print("\n| rounds | closed cases | minutes | more minutes |\n|---|---|---|---|", flush=True)
    often = list(lab.often.values())
    plain, learnt = Sessions(shipped), {n: Sessions(bench) for n, bench in books.items()}
    more: dict[int, list[list[float]]] = {n: [] for n in books}
    spent: list[list[float]] = []
    for lap in range(1, given.rounds + 1):
        if time.monotonic() - start > 3600.0 * given.within:
            break
        spent.append(minutes(plain, lab, given.played, f"{seed} {lap}"))
        print(f"| {lap} | 0 | {interval(often, spent)} | |", flush=True)
        for n, played in learnt.items():
            took = minutes(played, lab, given.played, f"{seed} {lap}")
            more[n].append([b - a for a, b in zip(spent[-1], took, strict=True)])
            mean = sum(w * t for w, t in zip(often, took, strict=True))
            print(f"| {lap} | {n} | {mean:.1f} | {interval(often, more[n])} |", flush=True)


def _tell_lost(books: Mapping[int, Bench], known: Bench, lab: Lab, least: float) -> None:
    print(
        "\n| closed cases | minutes lost by not knowing the lab's rates | nodes in the sum |\n"
        "|---|---|---|",
        flush=True,
    )
    for cases, bench in books.items():
        played = Lost(bench, known)
        parts = [
            likely_cost(played.start(q, lab.ends[q]), played.meet, least, often)
            for q, often in lab.often.items()
        ]
        lost, moves = (sum(part) for part in zip(*parts, strict=True))
        print(f"| {cases} | {lost:.2f} | {moves:.1f} |", flush=True)


def interval(weights: Sequence[float], rounds: Sequence[Sequence[float]]) -> str:
    """The mean of all rounds so far, with its 95 % interval."""
    mean, half = over_strata(weights, rounds)
    return f"{mean:+.1f} ({mean - half:+.1f} to {mean + half:+.1f})"


def expected_score(world: Mapping[str, float], said: Mapping[str, float]) -> float:
    """The mean of ln P(what it was) over the ends of a complaint in a world, exactly."""
    return sum(p * math.log(said[end]) for end, p in world.items())


if __name__ == "__main__":
    main()
