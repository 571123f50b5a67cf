"""The mean cost of many sessions played side by side, with chance dealt out evenly.

What is played is a tree: a node costs something and leads to outcomes with known probabilities, or
ends. All sessions stand at its root. At every node those that stand there are dealt over its
outcomes by systematic sampling: of m sessions an outcome of probability p gets m p, rounded up or
down so that it is m p on average (Madow and Madow 1944, Ann. Math. Statist. 15:1-24). So the mean
is unbiased however few they are, it spreads less than that of as many sessions drawn one by one,
and a node is worked out once for all that stand there. The luck of a node is drawn from the seed
and the way to it: two policies have the same luck for as long as they do the same.

A guess of what is still to be paid from a node on takes luck out of the mean: at each deal the
guesses of what came up are taken off, and what they are on average is put on, which leaves the mean
unbiased whatever the guess, and quiet where the guess is good (control variates; at every chance
node of a game: Burch, Schmid, Moravcik and Bowling 2018, AIVAT, AAAI-18). How much a mean spreads
is told by several of them, with other seeds (`mean_and_half`).
"""

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import Generic, TypeVar

import numpy as np
from scipy import stats

Node = TypeVar("Node")


@dataclass(frozen=True)
class Met(Generic[Node]):
    """What a node costs, and (name, probability, node) of its outcomes; none where it ends.

    The probabilities are taken in proportion to their sum; names tell the outcomes apart.
    """

    cost: float
    outcomes: Sequence[tuple[str, float, Node]] = ()


def deal(shares: Sequence[float], sessions: int, luck: float) -> list[int]:
    """So many sessions dealt out in proportion to the shares; `luck` is uniform on [0, 1)."""
    total = sum(shares)
    ends = [0.0, *(sessions * part / total for part in accumulate(shares[:-1])), float(sessions)]
    before = [math.ceil(end - luck) for end in ends]
    return [b - a for a, b in pairwise(before)]


def mean_cost(
    root: Node,
    meet: Callable[[Node], Met[Node]],
    sessions: int,
    seed: str,
    guess: Callable[[Node], float] = lambda node: 0.0,
) -> float:
    """The mean over the sessions of the costs of all nodes that each of them meets."""
    total, waiting = 0.0, [(root, sessions, "")]
    while waiting:
        node, here, way = waiting.pop()
        met = meet(node)
        total += here * met.cost
        if not met.outcomes:
            continue
        luck = random.Random(f"{seed}{way}").random()
        shares = [p for _, p, _ in met.outcomes]
        dealt = deal(shares, here, luck)
        for (name, p, after), some in zip(met.outcomes, dealt, strict=True):
            total += (here * p / sum(shares) - some) * guess(after)
            if some:
                waiting.append((after, some, f"{way}/{name}"))
    return total / sessions


def likely_cost(
    root: Node, meet: Callable[[Node], Met[Node]], least: float, p: float = 1.0
) -> tuple[float, float]:
    """The expected cost of the nodes that come up with a probability of at least `least`, exactly.

    And how many such nodes a session meets in the mean. `p`: how likely the root is.
    """
    total, nodes, waiting = 0.0, 0.0, [(root, p)]
    while waiting:
        node, here = waiting.pop()
        if here < least:
            continue
        met = meet(node)
        total += here * met.cost
        nodes += here
        shares = sum(share for _, share, _ in met.outcomes)
        waiting += [(after, here * share / shares) for _, share, after in met.outcomes]
    return total, nodes


def mean_and_half(means: Sequence[float]) -> tuple[float, float]:
    """The mean of independent means, and half of its 95 % interval by Student's t."""
    n = len(means)
    if n < 2:
        return float(means[0]), math.inf
    half = stats.t.ppf(0.975, n - 1) * np.std(means, ddof=1) / math.sqrt(n)
    return float(np.mean(means)), float(half)


def over_strata(weights: Sequence[float], rounds: Sequence[Sequence[float]]) -> tuple[float, float]:
    """The weighted mean of strata, and half of its 95 % interval.

    Each of `rounds` holds a mean of every stratum, independent of the other rounds. The variance is
    the sum over the strata; its degrees of freedom are Satterthwaite's (1946, Biometrics Bulletin
    2:110-114).
    """
    told, n = np.array(rounds), len(rounds)
    w = np.array(weights)
    mean = float(told.mean(axis=0) @ w)
    if n < 2:
        return mean, math.inf
    each = w**2 * told.var(axis=0, ddof=1) / n
    total = float(each.sum())
    if total == 0.0:
        return mean, 0.0
    freedom = total**2 / float((each**2 / (n - 1)).sum())
    return mean, float(stats.t.ppf(0.975, freedom)) * math.sqrt(total)
