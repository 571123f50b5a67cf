"""Where a gauge ends: readings that stop dead at an end of its scale tell a bound only."""

import math

import numpy as np

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.sources.rows import Floats

AIR_SHOWN = 0.8
"""A gauge that shows this share of an atmosphere or more sees the whole of a rise."""
SAME = 0.003
REPEATED = 3
STAYED, SLOWED = 0.8, 1.7
"""A gauge is at its end if it stops dead: at least so many readings within so small a share, for so
long beside the time of the last quarter before, which itself took no more than so many times that
of the quarter before it. What levels off by itself takes three times as long."""


def gauge_end(t: Floats, p: Floats) -> float | None:
    """The pressure at which the gauge ends, if it got there on the way up or down."""
    most = float(p.max())
    if most > AIR_SHOWN * ATMOSPHERE:
        return None
    there = np.concatenate([[False], p >= most * (1 - SAME), [False]])
    edges = np.flatnonzero(np.diff(there.astype(int)))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        if after - first < REPEATED:
            continue
        stayed = t[after - 1] - t[first]
        up = (t[first] - t[first::-1], p[first::-1])
        down = (t[after - 1 :] - t[after - 1], p[after - 1 :])
        for away, pascal in (up, down):
            quarter, half = (_first_below(away, pascal, most * x) for x in (0.75, 0.5))
            if STAYED * quarter <= stayed and quarter <= SLOWED * (half - quarter) < math.inf:
                return most
    return None


def _first_below(t: Floats, p: Floats, level: float) -> float:
    """When `p` first falls below a level, between two readings; never: infinite."""
    below = np.flatnonzero(p < level)
    if not len(below):
        return math.inf
    k = int(below[0])
    return float(np.interp(level, p[[k, k - 1]], t[[k, k - 1]]))
