"""Readings of a log kept as few points: what tells the same is merged, glitches are left out."""

import numpy as np
from numpy.typing import NDArray

from troubleshoot.sources.rows import Floats

MOST_POINTS = 6000
"""How many points a log is kept in; more than enough for any curve of a coater."""
GLITCH = 0.2
"""A single reading that differs this much in ln p from its neighbours is a glitch."""


def display_step(pascal: Floats) -> Floats:
    """The step of a display about each reading, in Pa: the gap to the nearest other value seen.

    Zero where readings hardly ever repeat: then the display is finer than the noise.
    """
    values = np.unique(pascal)
    if len(values) == 1:
        # One value all the time: a display of two digits.
        return np.asarray(10 ** (np.floor(np.log10(pascal)) - 1))
    if len(values) > 0.5 * len(pascal):
        return np.zeros_like(pascal)
    gaps = np.diff(values)
    nearest = np.minimum(np.append(gaps, gaps[-1]), np.append(gaps[0], gaps))
    return nearest[np.searchsorted(values, pascal)]


class Points:
    """Readings merged so that no more than `MOST_POINTS` are kept.

    Of neighbouring pairs those are merged first that differ least: by Ward's criterion,
    n1 n2/(n1 + n2) (difference of ln p)^2, the loss in the sum of squares (Ward, J. Am. Stat.
    Assoc. 58 (1963) 236). So a long quiet stretch becomes few points and a fast fall keeps its own.
    """

    def __init__(self) -> None:
        self.seconds = self.log_p = self.weight = np.empty(0)
        self.glitches = 0

    def add(self, seconds: Floats, log_p: Floats) -> None:
        good = _no_glitch(log_p)
        self.glitches += int((~good).sum())
        self.seconds = np.append(self.seconds, seconds[good])
        self.log_p = np.append(self.log_p, log_p[good])
        self.weight = np.append(self.weight, np.ones(int(good.sum())))
        self._shrink(MOST_POINTS)

    def finished(self) -> tuple[Floats, Floats, Floats]:
        """Times, ln p and rows; readings with the same stamp are one point."""
        if len(self.seconds) == 0:
            return self.seconds, self.log_p, self.weight
        new = np.flatnonzero(np.diff(self.seconds, prepend=-np.inf) > 0)
        weight = np.add.reduceat(self.weight, new)
        log_p = np.add.reduceat(self.weight * self.log_p, new) / weight
        return self.seconds[new], log_p, weight

    def _shrink(self, most: int) -> None:
        odd = 0
        while len(self.seconds) > most:
            self.seconds, self.log_p, self.weight = merge(
                self.seconds, self.log_p, self.weight, len(self.seconds) - most, odd
            )
            odd = 1 - odd


def merge(
    seconds: Floats, log_p: Floats, weight: Floats, fewer: int, odd: int
) -> tuple[Floats, Floats, Floats]:
    """Merge up to `fewer` neighbouring pairs (those that start at an odd or an even place)."""
    pairs = (len(seconds) - odd) // 2
    left = odd + 2 * np.arange(pairs)
    n1, n2 = weight[left], weight[left + 1]
    cost = n1 * n2 / (n1 + n2) * (log_p[left + 1] - log_p[left]) ** 2
    count = min(fewer, max(1, (3 * pairs) // 4))
    cheap = left[np.argpartition(cost, count - 1)[:count]]
    total = weight.copy()
    total[cheap] += weight[cheap + 1]
    t, p = seconds.copy(), log_p.copy()
    for values in (t, p):
        values[cheap] = (
            weight[cheap] * values[cheap] + weight[cheap + 1] * values[cheap + 1]
        ) / total[cheap]
    keep = np.ones(len(seconds), dtype=bool)
    keep[cheap + 1] = False
    return t[keep], p[keep], total[keep]


def _no_glitch(log_p: Floats) -> NDArray[np.bool_]:
    """False for one or two readings that jump away and come back."""
    if len(log_p) < 7:
        return np.ones(len(log_p), dtype=bool)
    padded = np.pad(log_p, 2, mode="edge")
    away = np.abs(log_p - _median_of_five(*(padded[i : i + len(log_p)] for i in range(5))))
    spread = 1.4826 * float(np.median(away))
    good = away <= max(GLITCH, 8 * spread)
    good[:2] = good[-2:] = True
    return np.asarray(good)


def _median_of_five(a: Floats, b: Floats, c: Floats, d: Floats, e: Floats) -> Floats:
    """Elementwise; many times faster than `np.median`.

    The least and the greatest of four are never the middle of five; what remains is a median of
    three.
    """
    low = np.maximum(np.minimum(a, b), np.minimum(c, d))
    high = np.minimum(np.maximum(a, b), np.maximum(c, d))
    return np.maximum(np.minimum(low, high), np.minimum(np.maximum(low, high), e))
