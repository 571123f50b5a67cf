"""Where a gauge ends: readings that stop dead at an end of its scale tell a bound only."""

import math

import numpy as np
from numpy.typing import NDArray

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.readings.pressure.segment import scatter
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.rows import Floats

AIR_SHOWN = 0.8
"""A gauge that shows this share of an atmosphere or more sees the whole of a rise."""
SAME = 0.003
REPEATED = 3
FLOOR_READINGS, FLAT = 5, 0.8
STAYED, SLOWED = 0.8, 1.7
"""A gauge is at its end if it stops dead: at least so many readings within so small a share, for so
long beside the time of the last quarter before, which itself took no more than so many times that
of the quarter before it. What levels off by itself takes three times as long."""


def top_of(log: Log, places: slice) -> float | None:
    """The upper end of the scale, where the log or these readings show it."""
    t, p = log.seconds[places], log.pascal[places]
    if log.high is not None and p.max() >= log.high * (1 - SAME):
        return log.high
    return gauge_end(t, p)


def floor_of(log: Log, places: NDArray[np.intp]) -> float | None:
    """The lower end of the scale, where the log or these readings show it; typed ones do not."""
    t, p = log.seconds[places], log.pascal[places]
    if log.low is not None and p.min() <= log.low * (1 + SAME):
        return log.low
    return None if log.typed else gauge_floor(t, p)


def gauge_end(t: Floats, p: Floats, ends: float = AIR_SHOWN * ATMOSPHERE) -> float | None:
    """The pressure at which the gauge ends, if it got there on the way up or down.

    One that shows more than `ends` Pa sees the whole of a rise.
    """
    most = float(p.max())
    if most > ends:
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


def gauge_floor(t: Floats, p: Floats) -> float | None:
    """The least pressure that the gauge shows, if the fall stops dead there.

    Nearly every later reading is then the same, though readings above it scatter by more than the
    display rounds; or the reciprocal of the pressure ends as at the top of a scale.
    """
    least = float(p.min())
    there = p <= least * (1 + 1e-9)
    first = int(np.argmax(there))
    stays = there[first:]
    if np.count_nonzero(stays) < FLOOR_READINGS or stays.mean() < FLAT or p.max() < 3 * least:
        return None
    if np.count_nonzero(stays) >= 2 * FLOOR_READINGS and stays.all() and _digits(p) >= 3:
        return least  # a display so fine would show some of the noise
    others = np.unique(p[p < 2 * least])
    step = float(others[1] - least) / least if len(others) > 1 else 1.0
    above = np.log(p[:first][p[:first] < 30 * least])
    if len(above) >= FLOOR_READINGS and scatter(above) > 0.6 * step:
        return least
    return least if gauge_end(t, 1 / p, ends=math.inf) is not None else None


def _digits(p: Floats) -> int:
    """How many digits the display shows, at least, from the finest step between readings."""
    values = np.unique(p)
    steps = np.diff(values) / values[:-1]
    steps = steps[steps > 1e-6]
    return round(-math.log10(float(steps.min()))) if len(steps) else 1


def _first_below(t: Floats, p: Floats, level: float) -> float:
    """When `p` first falls below a level, between two readings; never: infinite."""
    below = np.flatnonzero(p < level)
    if not len(below):
        return math.inf
    k = int(below[0])
    return float(np.interp(level, p[[k, k - 1]], t[[k, k - 1]]))
