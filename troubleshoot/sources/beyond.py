"""Readings beyond the ends of a gauge's scale: not lost, but at least, or at most, so much.

Rows that say OVER, or UNDER, come as plus and minus infinity. A run of them beside readings near
the end of the scale is put back as readings at that end, where they tell a bound; what stands
anywhere else (a plug pulled out) is left out.
"""

from dataclasses import dataclass, field

import numpy as np

from troubleshoot.sources.rows import Floats

FEWEST = 3
"""So many rows make a stretch at the end of a scale; one or two may be a spark."""
NEAR = 3.0
"""The reading beside such a stretch lies within this factor of the end: judgement."""
MOST_RUNS = 1000
"""So many stretches are kept; a log has a few."""
MOST_POINTS = 40
"""A stretch is kept in as many points."""


@dataclass
class Beyond:
    """The stretches in the order of the log: each a sign, its first and last time, its rows."""

    runs: list[tuple[float, float, float, int]] = field(default_factory=list)
    open: bool = False
    kept: int = 0
    low: float | None = None
    high: float | None = None

    def add(self, seconds: Floats, values: Floats) -> None:
        """Take up the rows of a block; times that are nan are passed over."""
        timed = np.isfinite(seconds)
        seconds, values = seconds[timed], values[timed]
        sign = np.where(np.isinf(values), np.sign(values), 0.0)
        if not sign.any():
            self.open &= not len(sign)
            return
        edges = np.flatnonzero(np.diff(sign, prepend=np.nan, append=np.nan) != 0)
        firsts, afters = edges[:-1], edges[1:]
        # A short stretch counts only where it may go on in the block before or after.
        long = (afters - firsts >= FEWEST) | (firsts == 0) | (afters == len(sign))
        for first, after in zip(firsts[long], afters[long], strict=True):
            way, rows = float(sign[first]), int(after - first)
            if not way:
                self.open = False
                continue
            start, last = float(seconds[first]), float(seconds[after - 1])
            if first == 0 and self.open and self.runs and self.runs[-1][0] == way:
                _, start, _, before = self.runs.pop()
                rows += before
            self._close()
            self.runs.append((way, start, last, rows))
            self.open = bool(after == len(sign))
        self.open &= bool(sign[-1])

    def _close(self) -> None:
        """Forget the last stretch if it is short, or if there are too many of them."""
        if self.runs and (self.runs[-1][3] < FEWEST or len(self.runs) > MOST_RUNS):
            self.runs.pop()

    def put_back(
        self, seconds: Floats, log_p: Floats, weight: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Times, ln p and rows with the stretches at the ends.

        `kept` are then the rows that they stand for, `low` and `high` the ends in Pa.
        """
        if not len(log_p):
            return seconds, log_p, weight
        ends = {1.0: float(log_p.max()), -1.0: float(log_p.min())}
        added: list[tuple[Floats, Floats, Floats]] = []
        for way, start, last, rows in self.runs:
            place = int(np.searchsorted(seconds, start))
            beside = log_p[max(place - 1, 0) : place + 1]
            if rows < FEWEST or np.abs(beside - ends[way]).min() > np.log(NEAR):
                continue
            points = min(rows, MOST_POINTS)
            times = np.linspace(start, last, points)
            added.append((times, np.full(points, ends[way]), np.full(points, rows / points)))
            self.kept += rows
            self.low = float(np.exp(ends[way])) if way < 0 else self.low
            self.high = float(np.exp(ends[way])) if way > 0 else self.high
        if not added:
            return seconds, log_p, weight
        columns = zip((seconds, log_p, weight), *added, strict=True)
        t, p, w = (np.concatenate(column) for column in columns)
        order = np.argsort(t, kind="stable")
        t, p, w = t[order], p[order], w[order]
        new = np.diff(t, prepend=-np.inf) > 0
        return t[new], p[new], w[new]
