"""A stretch of a log, where a log has gaps, and its noise."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from troubleshoot.sources.log_file import Log
from troubleshoot.sources.rows import Floats

Kind = Literal["pumping", "isolated", "gas", "venting", "unclear", "steady"]


GAP_SECONDS, GAP_ROWS = 30.0, 8.0
"""A gap is longer than this, and than so many rows would take: judgement."""


@dataclass(frozen=True)
class Segment:
    """Points `first` to `last` (inclusive) of a log.

    `kicks`: short jumps up while pumping. `top`: Pa, the end of the gauge's scale, where that is
    why the segment begins or ends.
    """

    kind: Kind
    first: int
    last: int
    kicks: int = 0
    top: float | None = None

    @property
    def points(self) -> slice:
        return slice(self.first, self.last + 1)

    def __len__(self) -> int:
        return self.last - self.first + 1


def scatter(log_p: Floats) -> float:
    """Scatter of one reading in ln p, from second differences, which no slow change touches.

    Also from those of readings further apart, as long as there are many: noise may hang together.
    """
    if len(log_p) < 5:
        return 0.0
    apart = [k for k in (1, 2, 4, 8) if k == 1 or len(log_p) >= 40 * k]
    seconds = (log_p[2 * k :] - 2 * log_p[k:-k] + log_p[: -2 * k] for k in apart)
    return 1.4826 * max(float(np.median(np.abs(d))) for d in seconds) / math.sqrt(6)


def smooth(log_p: Floats, readings: int = 5) -> Floats:
    """Running median (of an odd number), which leaves slopes and corners in their places."""
    if len(log_p) < 6 * readings:
        return log_p
    padded = np.pad(log_p, readings // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, readings)
    return np.asarray(np.median(windows, axis=1))


def gaps(log: Log) -> list[int]:
    """The first reading after each gap. Nobody knows what was done meanwhile, so it ends a segment.

    A point that stands for many rows takes as long as they do. Typed readings have no pace.
    """
    if log.typed or len(log.seconds) < 4:
        return []
    apart = np.diff(log.seconds)
    rows = (log.rows_each[1:] + log.rows_each[:-1]) / 2
    usual = float(np.median(apart / rows))
    wide = (apart > GAP_SECONDS) & (apart > GAP_ROWS * usual * rows)
    return (np.flatnonzero(wide) + 1).tolist()
