"""A straight drift under noise that hangs together, beside steps and the settling of a new glow.

Four things make the interval of a plain fitted line too narrow in a log: noise that lasts for
seconds, a step whose height is not known, a glow that still settles, and a display that shows few
digits. Each is part of the model here. What noise there is, and whether the glow settles, is
averaged over instead of chosen: the slope's distribution is a mixture of Student's t.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.trend import Trend
from troubleshoot.sources.rows import Floats

BINS = 60
"""The log is averaged in so many stretches at most."""
FEWEST_LEFT = 4
"""Stretches beyond the coefficients, without which nobody can tell the noise."""
MEMORIES, SLOWEST, WHITE_SHARES = 6, 6.0, (0.0, 0.4, 0.8)
"""So many correlation times are tried, from the length of a stretch to the `SLOWEST` part of the
log (what wanders more slowly is a drift), each with these shares of noise without memory."""
P_WHITE = 0.5
"""P(noise without memory). Judgement, as the numbers of settling."""
SETTLE_TIMES, P_SETTLES = tuple(0.8 * 1.25**k for k in range(15)), 0.5
"""s. A glow settles by exp(-t/tau), with one of these tau."""
MOST_SETTLING = 0.3
"""What is left of the settling at first is anywhere from minus to plus this share of the level."""
P_OTHER_LEVEL, MOST_OTHER = 0.3, 0.5
"""P(the level is another after a pause), and by what share of it at most."""
SAME = 1e-3
"""Two columns that differ by no more than this share are one."""
WINDOW_ROWS = 12
"""So many rows in a row show whether a display flickers."""
TINY = 1e-20
"""Least sum of squares, in squares of the level: an exact line has none."""


@dataclass(frozen=True)
class Drift:
    """The fitted `line`, the `curve` (line, steps and settling), and the level's sigma.

    The curve has a value for every row and means something from `start` (s) on. 95 % of the time
    the truth lies within 1.96 sigma, also where few rows tell how large the noise is.
    """

    line: Trend
    curve: Floats
    start: float
    level_sigma: float


def fit_drift(
    seconds: Floats,
    values: Floats,
    good: NDArray[np.bool_],
    steps: Sequence[float] = (),
    pauses: Sequence[float] = (),
    display: float = 0.0,
) -> Drift | None:
    """The drift of `values` against `seconds`, of the rows that are `good`; None if too few.

    `steps`: times at which the level jumps to another (by how much is fitted). `pauses`: times
    after which it may be another. `display`: the step of the display. The line is that before the
    first step, settled.

    For every noise covariance s^2 V (white and first-order autoregressive parts) and settling time,
    the generalised least-squares line and its evidence with s and the coefficients integrated out,
    -1/2 ln|V| - 1/2 ln|X'V^-1 X| - (n - p)/2 ln RSS + ln Gamma((n - p)/2) - (n - p)/2 ln pi
    (Harville, Biometrika 61 (1974) 383); the slope given each is Student's t with n - p degrees.
    """
    places = np.flatnonzero(good & np.isfinite(values))
    if len(places) < 2 + FEWEST_LEFT:
        return None
    bins = _Bins(places)
    start, middle = float(seconds[places[0]]), float(np.mean(seconds[places]))
    straight = np.stack([np.ones(len(seconds)), seconds - middle], axis=1)
    since = np.maximum(seconds - start, 0.0)
    settling = [np.exp(-since / tau) for tau in SETTLE_TIMES if tau < seconds[places[-1]] - start]
    rows, stepping = _with(straight, [seconds >= at for at in steps], bins)
    rows, pausing = _with(rows, [seconds >= at for at in pauses], bins)
    if len(bins.count) < rows.shape[1] + FEWEST_LEFT:
        return None
    rows, settles = _with(rows, settling, bins, each=True)
    t, y = bins.means(seconds), bins.means(values)
    scale = max(float(np.abs(y).max()), 1e-300)
    count = bins.count

    covariance, prior = _covariances(t, count)
    prior = prior - 0.5 * np.linalg.slogdet(covariance)[1]
    told = np.column_stack([bins.means(rows), y / scale])
    # One matrix for all of the stack, said so: numpy 1 takes a plain one for a stack of vectors.
    whitened = np.linalg.solve(np.linalg.cholesky(covariance), told[None])
    designs = _designs([0, 1, *stepping], pausing, settles)
    fits = [_fits(whitened, columns, prior + math.log(p)) for columns, p in designs]
    weight = _shares(np.concatenate([f.log_evidence for f in fits]))
    noise = np.concatenate([f.noise for f in fits])
    degrees = np.concatenate([np.full(len(f.noise), f.degrees) for f in fits])
    slope, sigma = _mixed(
        np.concatenate([f.slope for f in fits]),
        np.concatenate([f.sigma for f in fits]),
        degrees, weight,
    )  # fmt: skip
    full = np.zeros(rows.shape[1])
    for fit, w in zip(fits, np.split(weight, len(fits)), strict=True):
        full[fit.columns] += w @ fit.coefficients
    # The level is a plain mean and needs no line; its noise is what the fits leave.
    even = count / count.sum()
    of_mean = np.sqrt(np.einsum("i,kij,j->k", even, covariance, even))
    _, level_sigma = _mixed(np.zeros(len(noise)), noise * np.tile(of_mean, len(fits)), degrees,
                            weight)  # fmt: skip

    rounding = _rounding(t, y / scale, values[places], display / scale)
    pull = (t - t.mean()) / float(((t - t.mean()) ** 2).sum())
    sigma = math.hypot(sigma, math.sqrt(float(pull @ rounding @ pull)))
    level_sigma = math.hypot(level_sigma, math.sqrt(float(even @ rounding @ even)))
    line = Trend(slope * scale, sigma * scale, middle, float(full[0]) * scale)
    return Drift(line, rows @ full * scale, start, level_sigma * scale)


class _Bins:
    """The rows in use, in up to `BINS` stretches of about as many rows each."""

    def __init__(self, places: NDArray[np.intp]) -> None:
        edges = np.linspace(0, len(places), min(BINS, len(places)) + 1).astype(int)
        self.places, self.starts = places, edges[:-1]
        self.count = np.diff(edges).astype(float)

    def means(self, values: Floats) -> Floats:
        """The mean of each stretch (of each column)."""
        sums = np.add.reduceat(values[self.places], self.starts, axis=0)
        return np.asarray((sums.T / self.count).T)


def _with(
    rows: Floats, columns: Sequence[NDArray[Any]], bins: "_Bins", *,
    each: bool = False,
) -> tuple[Floats, list[int]]:  # fmt: skip
    """The rows with more columns, and the places of these, without what cannot be told apart.

    `each`: every one must differ from `rows` only, and not from those beside it.
    """
    first, out = rows, rows
    for column in columns:
        if _is_new(column.astype(float), first if each else out, bins):
            out = np.column_stack([out, column])
    return out, list(range(rows.shape[1], out.shape[1]))


def _designs(
    always: list[int], pausing: list[int], settles: list[int]
) -> list[tuple[list[int], float]]:
    """The columns of each model, and its prior over what its coefficients may range over."""
    others = [(always, 1.0)]
    if pausing:
        density = P_OTHER_LEVEL / (2 * MOST_OTHER) ** len(pausing)
        others = [(always, 1 - P_OTHER_LEVEL), ([*always, *pausing], density)]
    each = P_SETTLES / len(SETTLE_TIMES) / (2 * MOST_SETTLING)
    return [
        design
        for columns, p in others
        for design in [
            (columns, p * (1 - P_SETTLES)),
            *(([*columns, k], p * each) for k in settles),
        ]
    ]


def _is_new(column: Floats, rows: Floats, bins: "_Bins") -> bool:
    """Whether the stretches can tell a column from a sum of the others."""
    binned, others = bins.means(column), bins.means(rows)
    left = binned - others @ np.linalg.lstsq(others, binned, rcond=None)[0]
    return bool(left @ left > SAME**2 * (binned @ binned))


def _covariances(t: Floats, count: Floats) -> tuple[Floats, Floats]:
    """The noise covariances that are tried (each n by n, of unit size), and ln prior of each."""
    apart = np.abs(t[:, None] - t[None, :])
    white = np.diag(count.mean() / count)
    span = float(t[-1] - t[0])
    shortest = span / (len(t) - 1)
    out = [white]
    for tau in np.geomspace(0.7 * shortest, max(span / SLOWEST, shortest), MEMORIES):
        out += [(1 - w) * np.exp(-apart / tau) + w * white for w in WHITE_SHARES]
    prior = np.full(len(out), math.log((1 - P_WHITE) / (len(out) - 1)))
    prior[0] = math.log(P_WHITE)
    return np.stack(out), prior


@dataclass(frozen=True)
class _Fits:
    """One design under every covariance, one entry for each."""

    columns: list[int]
    degrees: int
    coefficients: Floats
    sigma: Floats  # of the slope
    noise: Floats
    log_evidence: Floats

    @property
    def slope(self) -> Floats:
        return self.coefficients[:, 1]


def _fits(whitened: Floats, columns: list[int], log_prior: Floats) -> _Fits:
    x, y = whitened[:, :, columns], whitened[:, :, -1]
    normal = np.einsum("kni,knj->kij", x, x)
    inverse = np.linalg.inv(normal)
    beta = np.einsum("kij,knj,kn->ki", inverse, x, y, optimize=True)
    rest = y - np.einsum("kni,ki->kn", x, beta)
    degrees = x.shape[1] - len(columns)
    rss = np.maximum((rest**2).sum(axis=1), TINY)
    evidence = (
        log_prior
        - 0.5 * np.linalg.slogdet(normal)[1]
        - 0.5 * degrees * np.log(math.pi * rss)
        + math.lgamma(0.5 * degrees)
    )
    noise = np.sqrt(rss / degrees)
    return _Fits(columns, degrees, beta, noise * np.sqrt(inverse[:, 1, 1]), noise, evidence)


def _shares(log_weight: Floats) -> Floats:
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _mixed(means: Floats, widths: Floats, degrees: Floats, weight: Floats) -> tuple[float, float]:
    """Mean of a mixture of Student's t, and its spread, with 95 % in 1.96 of it on either side.

    Of one t that is exact: its 95 % point over 1.96 from the expansion in 1/degrees (Abramowitz
    and Stegun, 26.7.5). Several are added as variances.
    """
    tails = 1 + 1.21 / degrees + 1.44 / degrees**2
    mean = float(weight @ means)
    return mean, math.sqrt(float(weight @ ((widths * tails) ** 2 + (means - mean) ** 2)))


def _rounding(t: Floats, means: Floats, shown: Floats, step: float) -> Floats:
    """Covariance of what rounding to `step` does to the means of the stretches.

    Where the noise makes the display flicker over three values or more, rounding averages out: its
    bias falls with exp(-2 pi^2 (sigma/step)^2) (Widrow and Kollar, Quantization Noise, 2008).
    Else its error has the variance step^2/12 and lasts as long as a value takes to cross a step.
    """
    apart = np.abs(t[:, None] - t[None, :])
    if step <= 0:
        return np.zeros_like(apart)
    windows = np.array_split(shown, max(1, len(shown) // WINDOW_ROWS))
    if np.median([len(np.unique(w)) for w in windows]) >= 3:
        return np.zeros_like(apart)
    lasts = float(t[-1] - t[0]) / max(float(np.ptp(means)) / step, 1.0)
    return np.asarray(step**2 / 12 * np.exp(-apart / lasts))
