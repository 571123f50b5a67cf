"""Are the probabilities right, and what is left of that when the rates of the rule base are wrong?

Cases are drawn from a world whose numbers are those of the rule base moved at random: the odds of
every cause and the weight of every answer are multiplied by exp(sigma z), z standard normal, once
for each world. The belief keeps the numbers of the rule base. At sigma 0 it must come out
calibrated. This tests the reasoning and how much it leans on its numbers, not the rule base.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.benchmarks.policies import information
from tests.benchmarks.scores import Bin, brier, brier_many, log_score, reliability
from troubleshoot.case.diagnose import Bench
from troubleshoot.reasoning.belief import Epoch, Evidence, Observation, posterior
from troubleshoot.reasoning.planner import Planner

TELLING = 0.02  # bits about the cause that a finding gives when the complaint comes in
UNLISTED = None
Names = tuple[str, ...]


@dataclass(frozen=True)
class Calibration:
    """Scores at one sigma; classes are the sets of causes and "unlisted".

    `brier_present` scores "this cause is there", over all causes. `first`: how often the likeliest
    class was the true one, `said`: the mean probability that it was given, `table`: both by bins.
    """

    sigma: float
    brier_sets: float
    log_sets: float
    brier_present: float
    first: float
    said: float
    table: list[Bin]


class World:
    """One complaint, its numbers moved."""

    def __init__(self, planner: Planner, sigma: float, rng: random.Random) -> None:
        self.planner, self.net, self.sigma, self.rng = planner, planner.net, sigma, rng
        start = posterior(self.net, Evidence(self.net.complaint))
        moved = {c: np.exp(sigma * rng.gauss(0, 1)) for c in self.net.causes}
        self.sets: list[Names | None] = [names for names, _ in start.sets]
        self.weights = [p * float(np.prod([moved[c] for c in names])) for names, p in start.sets]
        self.sets.append(UNLISTED)
        self.weights.append(start.unlisted)
        w = planner.weights(start)
        self.telling = [
            f for f in self.net.findings if information(planner.answers(f), w / w.sum()) > TELLING
        ]
        self._rows: dict[tuple[str, Names | None, bool], list[float]] = {}

    def row(self, finding: str, names: Names | None, misled: bool) -> list[float]:
        """P(answer | these causes) in this world."""
        key = (finding, None if misled else names, misled)
        if key not in self._rows:
            if names is UNLISTED or misled:
                p = self.net.population(finding)
            else:
                members = [self.net.index[c] for c in names] or [len(self.net.causes)]
                p = self.net.table(finding).probabilities(np.array([members]))[0]
            moved = p * np.exp([self.sigma * self.rng.gauss(0, 1) for _ in p])
            self._rows[key] = (moved / moved.sum()).tolist()
        return self._rows[key]

    def draw(self, findings: int) -> tuple[Names | None, Evidence]:
        """The truth of one case, and `findings` telling answers to it."""
        truth = self.rng.choices(self.sets, self.weights)[0]
        groups = self.planner.rules.groups
        misled = {g for g, group in groups.items() if self.rng.random() < group.chance}
        told = []
        for f in self.rng.sample(self.telling, min(findings, len(self.telling))):
            row = self.row(f, truth, self.net.group_of.get(f) in misled)
            answer = self.rng.choices(range(len(row)), row)[0]
            told.append(Observation(f, tuple(float(n == answer) for n in range(len(row)))))
        return truth, Evidence(self.net.complaint, {}, (Epoch(tuple(told)),))


def calibrate(
    bench: Bench, complaints: Sequence[str], cases: int, findings: int, sigma: float, seed: int
) -> Calibration:
    """`cases` cases over `complaints` in turn, with `findings` answers each, in one pass."""
    rng = random.Random(f"{seed} {sigma}")
    worlds = [World(bench.planner(c), sigma, rng) for c in complaints]
    places, rows, present_y, present_p = [], [], [], []
    for n in range(cases):
        world = worlds[n % len(worlds)]
        truth, evidence = world.draw(findings)
        belief = posterior(world.net, evidence)
        classes: list[Names | None] = [names for names, _ in belief.sets]
        classes.append(UNLISTED)
        places.append(classes.index(truth))
        rows.append([*(p for _, p in belief.sets), belief.unlisted])
        for cause, p in belief.present.items():
            present_y.append(int(truth is not UNLISTED and cause in truth))
            present_p.append(p)
    said = [max(row) for row in rows]
    right = [int(row[place] == top) for row, place, top in zip(rows, places, said, strict=True)]
    widest = max(map(len, rows))
    padded = [[*row, *[0.0] * (widest - len(row))] for row in rows]
    return Calibration(
        sigma,
        brier_many(places, padded),
        log_score(places, padded),
        brier(present_y, present_p),
        float(np.mean(right)),
        float(np.mean(said)),
        reliability(right, said, bins=5),
    )
