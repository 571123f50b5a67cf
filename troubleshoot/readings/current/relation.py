"""Whether the current follows the pressure, moves with it or goes ahead of it.

Numbers that name no source are judgement.
"""

import math

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.current.trace import FEWEST, WINDOW, Trace
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.rows import Floats

GAUGE_SECONDS = 2.0
"""s. A heat-loss gauge is this late; a lag within it is no lag."""
GAUGE_BLUR = 0.2
"""s. It also smooths what it shows; how late a smoothed change seems depends on its shape."""
LONGEST_LAG = 30.0
LEAST_SHARE = 0.01
RELATIONS = ("follows", "together", "leads", "unrelated")


def relation_of(
    run: Trace, pascal: Floats, usable: NDArray[np.bool_]
) -> tuple[dict[str, float], Estimate | None]:
    """P(follows), P(together), P(leads), P(unrelated) of the current against the pressure.

    From the correlation r at each lag: ln L = -n/2 ln(1 - r^2) - ln(n)/2, n the number of
    independent readings (Bartlett, J. R. Stat. Soc. Suppl. 8 (1946) 27) and the last term the price
    of a fitted r (Schwarz, Ann. Stat. 6 (1978) 461); all four relations alike
    beforehand. Changes over `WINDOW` are compared, so that two drifts are no relation.
    The lag, in s, is above zero if the current comes after the pressure as the gauge shows it.
    """
    good = run.steady & usable
    if good.sum() < FEWEST:
        return {}, None
    dt = max(float(np.median(np.diff(run.seconds))), 60 * run.minutes / 2000)
    edges = np.arange(run.seconds[0], run.seconds[-1], dt)
    i = _changes(run.seconds[good], run.amps[good], edges, dt)
    p = _changes(run.seconds[good], np.log(pascal[good]), edges, dt)
    if len(i) < FEWEST:
        return {}, None
    count = len(i)
    if i.std() == 0 or p.std() == 0:
        *moving, still = RELATIONS
        return dict.fromkeys(moving, LEAST_SHARE) | {still: 1 - len(moving) * LEAST_SHARE}, None
    reach = max(1, int(min(LONGEST_LAG, dt * count / 4) / dt))
    lags = np.arange(-reach, reach + 1)
    r = np.array([_correlation(i, p, int(k)) for k in lags])
    n = count / _inefficiency(i, p, reach)
    log_l = -0.5 * n * np.log1p(-np.minimum(r**2, 0.9999)) - 0.5 * math.log(max(n, 1.0))
    lag_s = lags * dt
    near = max(GAUGE_SECONDS, dt)
    masks = (lag_s > near, np.abs(lag_s) <= near, lag_s < -near)
    told = [_log_mean(log_l[m]) if m.any() else -math.inf for m in masks]
    told.append(0.0)  # unrelated: r is zero
    weight = np.exp(np.array(told) - max(told))
    shares = LEAST_SHARE + (1 - 4 * LEAST_SHARE) * weight / weight.sum()
    relation = {name: float(w) for name, w in zip(RELATIONS, shares, strict=True)}
    if relation["unrelated"] > 0.5:
        return relation, None
    mass = np.exp(log_l - log_l.max())
    mean = float((mass * lag_s).sum() / mass.sum())
    spread = math.sqrt(float((mass * (lag_s - mean) ** 2).sum() / mass.sum()) + dt**2 / 12)
    return relation, Estimate(mean, math.hypot(spread, GAUGE_BLUR), "s")


def _changes(x: Floats, y: Floats, edges: Floats, dt: float) -> Floats:
    """Changes over `WINDOW` of the values on an even grid, free of their mean."""
    even = np.interp(edges, x, y)
    over = max(1, round(WINDOW / dt))
    change = even[over:] - even[:-over]
    return np.asarray(change - change.mean())


def _correlation(i: Floats, p: Floats, lag: int) -> float:
    """Of the current with the pressure `lag` steps before."""
    a, b = (i[lag:], p[: len(p) - lag]) if lag >= 0 else (i[:lag], p[-lag:])
    size = float(np.sqrt((a @ a) * (b @ b)))
    return float(a @ b) / size if size > 0 else 0.0


def _inefficiency(i: Floats, p: Floats, reach: int) -> float:
    """Rows for one independent reading: 1 + 2 sum of the product of the autocorrelations."""
    both = [_correlation(i, i, k) * _correlation(p, p, k) for k in range(1, reach + 1)]
    return max(1.0, 1 + 2 * float(np.sum(both)))


def _log_mean(values: Floats) -> float:
    top = float(values.max())
    return top + math.log(float(np.mean(np.exp(values - top))))
