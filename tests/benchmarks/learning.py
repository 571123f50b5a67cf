"""Does a lab's own book help? `python -m tests.benchmarks.learning`.

A lab is made whose faults come with other frequencies than the rule base's. Either the share of
each cause and of "nothing is wrong" is multiplied by exp(sigma z), z standard normal (`--lab 1`:
sigma 1), or the same faults come again and again: two causes make half of the cases of each
complaint (`--lab two`). Some closed cases of it, proved, are kept in a casebook, and the learnt
book is held against the shipped rates on new cases of the same lab, as is a book that knows the
lab's rates wholly (`all`), which tells the most that can be gained:

- by the log score of what it was (mean ln P, after a few answers);
- by the weighted minutes of whole simulated sessions (`side_by_side`): the complaints are strata,
  each with its part of the sessions, and within one all chance is dealt out;
- and by what is lost on the way by not knowing the lab's rates (`side_by_side.Lost`), which is true
  only as far as the planner's own look ahead is.

The same cases and the same luck for each book; how much the luck matters is told by several rounds.
It tests the learning, not whether the rule base is true.
"""

import argparse
import datetime
import math
import random
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from tests.benchmarks.dealt import Met, mean_and_half, mean_cost, over_strata
from tests.benchmarks.side_by_side import WRONGLY, Known, Lost, Part, Sessions, Standing
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import Entry
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.tally import tally
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.reasoning.belief import Epoch, Evidence, Observation, posterior
from troubleshoot.reasoning.learned import NOTHING_WRONG, UNLISTED, Tally, ends_by_rules
from troubleshoot.reasoning.planner import ACCEPT, SERVICE, Planner

AT = "2026-01-05T09:00:00"
ANSWERS = 3
PARTS = {
    "check": "looking",
    "remedy": "remedies",
    SERVICE: "service",
    ACCEPT: "accepting",
    WRONGLY: "wrongly accepted",
}
Meet = Callable[[Standing], Met[Standing]]
Case = tuple[str, str]
"""A complaint, and what it was: a cause or `NOTHING_WRONG`."""


@dataclass(frozen=True)
class Lab:
    """A lab with frequencies of its own: P(end | complaint), and how often each complaint comes."""

    ends: Mapping[str, Mapping[str, float]]
    often: Mapping[str, float]

    @classmethod
    def moved(cls, rules: RuleBase, sigma: float, seed: int) -> "Lab":
        """The share of each cause, and of "nothing is wrong", times exp(sigma z)."""
        rng = random.Random(f"lab {seed}")
        moved = {c: math.exp(sigma * rng.gauss(0, 1)) for c in (*rules.causes, NOTHING_WRONG)}
        ends: dict[str, dict[str, float]] = {}
        often: dict[str, float] = {}
        for complaint in rules.complaints:
            by_rules = ends_by_rules(rules, Machine(), complaint)
            by_rules.pop(UNLISTED)
            ends[complaint] = _of_one({end: p * moved[end] for end, p in by_rules.items()})
            often[complaint] = sum(
                c.share * moved[c.id] * c.complaints.get(complaint, 0.0)
                for c in rules.causes.values()
            )
        return cls(ends, _of_one(often))

    @classmethod
    def of_two(cls, rules: RuleBase, seed: int) -> "Lab":
        """Two causes of each complaint make half of its cases, in equal parts.

        They are drawn by their shares; all else is as the rules say.
        """
        rng, base = random.Random(f"two {seed}"), cls.moved(rules, 0.0, seed)
        ends = {}
        for complaint, by_rules in base.ends.items():
            rest = {c: p for c, p in by_rules.items() if c != NOTHING_WRONG}
            two = []
            for _ in range(2):
                two.append(rng.choices(list(rest), list(rest.values()))[0])
                rest.pop(two[-1])
            others = _of_one({end: p for end, p in by_rules.items() if end not in two})
            ends[complaint] = {end: 0.5 * p for end, p in others.items()} | dict.fromkeys(two, 0.25)
        return cls(ends, base.often)

    def draw(self, cases: int, rng: random.Random) -> list[Case]:
        """New cases of this lab."""
        complaints = rng.choices(list(self.often), list(self.often.values()), k=cases)
        return [
            (q, rng.choices(list(self.ends[q]), list(self.ends[q].values()))[0]) for q in complaints
        ]


def _of_one(weights: Mapping[str, float]) -> dict[str, float]:
    total = sum(weights.values())
    return {name: weight / total for name, weight in weights.items()}


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


def means(
    played: Sessions,
    lab: Lab,
    sessions: int,
    seed: str,
    meet: Meet,
    guess: Callable[[Standing], float] = lambda at: 0.0,
) -> list[float]:
    """The mean cost of whole sessions of new cases, of each complaint of the lab.

    Each complaint gets its part of the sessions, and at least one.
    """
    return [
        mean_cost(
            played.start(q, lab.ends[q]),
            meet,
            max(1, round(sessions * often)),
            f"{seed} {q} ",
            guess,
        )
        for q, often in lab.often.items()
    ]


def main() -> None:
    parse = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parse.add_argument("--lab", default="1", help='a sigma, or "two"')
    parse.add_argument("--seed", type=int, default=1)
    parse.add_argument("--closed", type=int, nargs="+", default=[30, 200])
    parse.add_argument("--new", type=int, default=500, help="new cases that are scored")
    parse.add_argument("--played", type=int, default=60, help="sessions a round")
    parse.add_argument("--rounds", type=int, default=3)
    parse.add_argument("--within", type=float, default=math.inf, help="hours to begin a round in")
    given = parse.parse_args()
    start, rules, seed = time.monotonic(), load(), given.seed
    two = given.lab == "two"
    lab = Lab.of_two(rules, seed) if two else Lab.moved(rules, float(given.lab), seed)
    new = lab.draw(given.new, random.Random(f"new {seed}"))
    closed = lab.draw(max(given.closed), random.Random(f"closed {seed}"))
    books = {str(n): book_of(closed[:n], rules) for n in given.closed}
    books = {"none": Tally(), **books, "all": all_of(lab, rules)}
    benches = {name: LearntBench(rules, book) for name, book in books.items()}
    print(
        f"Rules {rules.hash}, {datetime.date.today()}, lab {given.lab}, seed {seed}; "
        f"{given.new} new cases scored, {given.played} sessions a round.\n"
    )
    scores = {name: log_scores(bench, new, seed) for name, bench in benches.items()}
    print(f"Shipped rates: log score {np.mean(scores['none']):.3f}.")
    for name in list(books)[1:]:
        gains = [b - a for a, b in zip(scores["none"], scores[name], strict=True)]
        mean, half = mean_and_half(gains)
        print(f"{name} closed cases: {mean:+.3f} ({mean - half:+.3f} to {mean + half:+.3f}).")
    print("\n| rounds | closed cases | minutes | fewer | lost | less lost |\n|---|" + "---|" * 5)
    played = {name: Sessions(bench) for name, bench in benches.items()}
    known = Known(benches["all"])
    spent: dict[str, list[list[float]]] = {name: [] for name in books}
    lost: dict[str, list[list[float]]] = {name: [] for name in books}
    parts: dict[str, dict[str, float]] = {name: dict.fromkeys(PARTS, 0.0) for name in books}
    often, laps = list(lab.often.values()), 0
    while laps < given.rounds and time.monotonic() - start < 3600.0 * given.within:
        laps += 1
        for name, those in played.items():
            deal = partial(means, those, lab, given.played, f"{seed} {laps}")
            spent[name].append(deal(meet=those.meet, guess=those.guess))
            lost[name].append(deal(meet=Lost(those, known).meet))
            for part in PARTS:
                parts[name][part] += float(np.dot(often, deal(meet=Part(those, part).meet)))
            told = [f"{over_strata(often, what[name])[0]:.1f}" for what in (spent, lost)]
            less = ["", ""]
            if name != "none":
                less = [interval(often, what["none"], what[name]) for what in (spent, lost)]
            print(
                f"| {laps} | {name} | {told[0]} | {less[0]} | {told[1]} | {less[1]} |", flush=True
            )
    print(f"\n| closed cases | {' | '.join(PARTS.values())} |\n|---|{'---|' * len(PARTS)}")
    for name, spread in parts.items():
        print(f"| {name} | {' | '.join(f'{m / laps:.1f}' for m in spread.values())} |")


def interval(
    weights: Sequence[float], before: Sequence[Sequence[float]], after: Sequence[Sequence[float]]
) -> str:
    """How much less after than before, over all rounds so far, with its 95 % interval."""
    mean, half = over_strata(weights, (np.array(before) - np.array(after)).tolist())
    return f"{mean:+.1f} ({mean - half:+.1f} to {mean + half:+.1f})"


def expected_score(world: Mapping[str, float], said: Mapping[str, float]) -> float:
    """The mean of ln P(what it was) over the ends of a complaint in a world, exactly."""
    return sum(p * math.log(said[end]) for end, p in world.items())


if __name__ == "__main__":
    main()
