"""A straight line through readings of which some are wild, with an honest uncertainty."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Z95 = 1.959963984540054
FEWEST = 5
"""With fewer readings nobody can tell a trend from its scatter."""
FEWEST_TIED = 8
"""With fewer readings nobody can tell whether neighbours hang together."""


@dataclass(frozen=True)
class Trend:
    """y = `middle` + `slope` (x - `centre`); `sigma` is the standard uncertainty of the slope."""

    slope: float
    sigma: float
    centre: float
    middle: float

    def at(self, x: float) -> float:
        """The line's value."""
        return self.middle + self.slope * (x - self.centre)

    def probability_above(self, slope: float) -> float:
        """P(true slope > `slope`), the estimate taken as normal."""
        if self.sigma <= 0:
            return float(self.slope > slope)
        return 0.5 * (1 + math.erf((self.slope - slope) / (self.sigma * math.sqrt(2))))


def robust_trend(
    x: Sequence[float] | NDArray[np.float64], y: Sequence[float] | NDArray[np.float64]
) -> Trend | None:
    """The Theil-Sen line: the median of the slopes of all pairs; None if there is too little.

    The uncertainty is Sen's distribution-free interval (95 %, divided by 2 x 1.96), from the
    variance n(n-1)(2n+5)/18 of Kendall's statistic, widened by sqrt((1 + r)/(1 - r)) where
    neighbouring residuals hang together with correlation r. Up to 29 % of the readings may be wild.
    Source: Sen, J. Am. Stat. Assoc. 63 (1968) 1379; the widening: variance of the mean of a
    first-order autoregressive series, standard time-series analysis.

    >>> robust_trend([0, 1, 2, 3, 4, 5], [0, 2, 4, 6, 8, 90]).slope
    2.0
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    count = len(xs)
    if count < FEWEST:
        return None
    order = np.argsort(xs, kind="stable")
    xs, ys = xs[order], ys[order]
    i, j = np.triu_indices(count, 1)
    apart = xs[j] - xs[i]
    good = apart > 0
    slopes = np.sort((ys[j] - ys[i])[good] / apart[good])
    if len(slopes) < count - 1:
        return None
    slope = float(np.median(slopes))
    reach = Z95 * math.sqrt(count * (count - 1) * (2 * count + 5) / 18)
    last = len(slopes) - 1
    low = slopes[max(math.floor((len(slopes) - reach) / 2), 0)]
    high = slopes[min(math.ceil((len(slopes) + reach) / 2), last)]
    centre = float(np.median(xs))
    middle = float(np.median(ys - slope * (xs - centre)))
    left = ys - middle - slope * (xs - centre)
    widening = math.sqrt((1 + (r := _hangs_together(left))) / (1 - r))
    return Trend(slope, float(high - low) / (2 * Z95) * widening, centre, middle)


def _hangs_together(left: NDArray[np.float64]) -> float:
    """Correlation of neighbouring residuals, 0 to 0.9; of a few readings nobody can tell.

    A fitted line takes some of it away: on average (2 + 4 r)/n (Marriott and Pope, Biometrika 41
    (1954) 390, with a line in place of their mean), which is put back.
    """
    power, count = float(left @ left), len(left)
    if count < FEWEST_TIED or power == 0:
        return 0.0
    seen = float(left[1:] @ left[:-1]) / power
    return min(max((seen + 2 / count) / (1 - 4 / count), 0.0), 0.9)
