"""Least squares in the logarithm of pressure, with an honest covariance, and models compared.

A gauge of this kind is wrong by a share of its reading, so ln p is fitted; near the floor of the
display its step is a larger share, and such readings weigh less. The size of the noise is taken
from the residuals, with a weak expectation (`EXPECTED` readings' worth of `NOISE`) that keeps six
typed numbers from claiming perfection. Residuals that hang together (a gauge that drifts, a model
that is not quite right) count as fewer readings.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.pressure.segment import scatter
from troubleshoot.readings.reading import Estimate

Floats = NDArray[np.float64]
Curve = Callable[..., Floats]

NOISE = 0.02
"""Expected scatter of a reading in ln p: judgement."""
EXPECTED = 3.0
"""Weight of that expectation, in readings: judgement."""
CORRELATED_ROWS = 0.1
"""Rows averaged into one point share a tenth of their scatter: judgement."""
Z95 = 1.959963984540054
_ROUNDS = 60
_NO_STEP = 1e-7
"""A step in ln(parameter) that nobody could see: the descent is at its end."""


@dataclass(frozen=True)
class Parameter:
    """A number above zero, its SI unit and the range in which the model means something.

    `expected`: what it is before anything is read, known to a factor exp(`spread`).
    """

    name: str
    unit: str
    low: float
    high: float
    expected: float | None = None
    spread: float = 1.0


@dataclass(frozen=True)
class Model:
    """A curve p(t; parameters) in SI with starting points for its fit.

    Each parameter is a number or a column of them, which gives a row of pressures for each. `kind`
    is what the model stands for: models of one kind are not told apart in the verdict.
    """

    name: str
    kind: str
    parameters: tuple[Parameter, ...]
    curve: Curve
    starts: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Data:
    """Times from the start of the segment in s, pressures in Pa and their relative variances."""

    seconds: Floats
    pascal: Floats
    variance: Floats

    @classmethod
    def of(cls, seconds: Floats, pascal: Floats, rows: Floats, step: Floats) -> "Data":
        """Variances in units of the (unknown) variance of a single reading far from the floor."""
        display = step**2 / 12 / (NOISE * pascal) ** 2
        share = 1 / rows + CORRELATED_ROWS * (1 - 1 / rows)
        return cls(seconds, pascal, share + display)

    def __len__(self) -> int:
        return len(self.seconds)


@dataclass(frozen=True)
class Fit:
    """A model with its best parameters. `log_likelihood` up to a constant of the data.

    `covariance` is that of ln(parameters), scaled so that 1.96 of its standard deviations hold
    95 %; a parameter that ran into the end of its range has none (nan).
    """

    model: Model
    values: Floats
    covariance: Floats
    log_likelihood: float
    scatter: float
    readings: float

    @property
    def aicc(self) -> float:
        """Akaike's criterion for few readings: 2k - 2 ln L + 2k(k+1)/(n-k-1).

        k counts the scatter too. Source: Hurvich and Tsai, Biometrika 76 (1989) 297.
        """
        k = len(self.values) + 1
        # What is expected of the scatter counts as readings.
        spare = self.readings + EXPECTED - k - 1
        return 2 * k - 2 * self.log_likelihood + (2 * k * (k + 1) / spare if spare > 0 else 1e9)

    def at(self, seconds: Floats) -> Floats:
        """Pressure in Pa."""
        return self.model.curve(seconds, *self.values)

    def estimate(self, name: str) -> Estimate | None:
        """A parameter with its standard uncertainty; None if the data do not determine it."""
        place = next(i for i, p in enumerate(self.model.parameters) if p.name == name)
        sigma = float(np.sqrt(np.diag(self.covariance))[place])
        if not math.isfinite(sigma) or sigma > 1:
            return None
        value = float(self.values[place])
        return Estimate(value, value * sigma, self.model.parameters[place].unit)

    def of(self, quantity: Callable[..., float], unit: str) -> Estimate:
        """A function of the parameters, its uncertainty carried over by its derivatives."""
        value = float(quantity(*self.values))
        known = np.isfinite(np.diag(self.covariance))
        slope = np.zeros(len(self.values))
        for i in np.flatnonzero(known):
            moved = self.values.copy()
            moved[i] *= 1.0001
            slope[i] = (quantity(*moved) - value) / 1e-4
        covariance = np.where(np.isfinite(self.covariance), self.covariance, 0.0)
        variance = float(slope @ covariance @ slope)
        return Estimate(value, math.sqrt(max(variance, 0.0)), unit)


@dataclass(frozen=True)
class Comparison:
    """Fits of one segment, best first, with the probability of each.

    Probabilities are Akaike weights, exp(-AICc/2) over their sum: each model counts as equally
    likely beforehand. Source: Burnham and Anderson, Model Selection and Multimodel Inference,
    2nd edition, section 2.9.
    """

    fits: tuple[Fit, ...]
    weights: tuple[float, ...]

    @property
    def best(self) -> Fit:
        return self.fits[0]

    def plain(self, decisive: float) -> Fit:
        """The simplest fit that is not worse than the best by `decisive` in ln-likelihood."""
        near = [
            f
            for f in self.fits
            if len(f.values) < len(self.best.values)
            and f.log_likelihood > self.best.log_likelihood - decisive
        ]
        return min(near, key=lambda f: (len(f.values), f.aicc), default=self.best)

    def kinds(self) -> dict[str, float]:
        """The greatest log-likelihood of each kind, relative to the greatest of all."""
        top = max(f.log_likelihood for f in self.fits)
        out: dict[str, float] = {}
        for one in self.fits:
            out[one.model.kind] = max(out.get(one.model.kind, -math.inf), one.log_likelihood - top)
        return out

    def probability(self, kind: str) -> float:
        """The weights of all models of a kind together."""
        pairs = zip(self.fits, self.weights, strict=True)
        return sum(w for fit, w in pairs if fit.model.kind == kind)

    def averaged(self, quantity: Callable[[Fit], Estimate], without: str = "") -> Estimate:
        """A quantity over all models by their weights; disagreement adds to the uncertainty.

        `without` names a model whose very form fixes the quantity.
        """
        pairs = zip(self.fits, self.weights, strict=True)
        used = [(w, fit) for fit, w in pairs if fit.model.name != without]
        most = max(w for w, _ in used)
        if not most:  # beside the one left out none has a weight that a number can hold
            used, most = [(1.0, used[0][1])], 1.0
        told = [(w, quantity(fit)) for w, fit in used if w > 1e-3 * most]
        total = sum(w for w, _ in told)
        mean = sum(w * e.value for w, e in told) / total
        variance = sum(w * (e.sigma**2 + (e.value - mean) ** 2) for w, e in told) / total
        return Estimate(float(mean), math.sqrt(variance), told[0][1].unit)


def fit_all(models: Sequence[Model], data: Data) -> Comparison:
    """Fit every model that has fewer parameters than there are readings (at least three)."""
    raw = [_solve(m, data) for m in models if len(m.parameters) < len(data)]
    if not raw:
        # A fall has three parameters in its simplest form: the expected scatter has to help.
        raw = [_solve(min(models, key=lambda m: len(m.parameters)), data)]
    steadiest = min(raw, key=lambda r: r.chi2)
    together = _together(steadiest.residuals)
    fits = sorted((_fit(r, data, together) for r in raw), key=lambda f: f.aicc)
    gaps = np.array([f.aicc - fits[0].aicc for f in fits])
    weights = np.exp(-0.5 * gaps)
    return Comparison(tuple(fits), tuple(float(w) for w in weights / weights.sum()))


@dataclass(frozen=True)
class _Raw:
    model: Model
    theta: Floats
    jacobian: Floats
    residuals: Floats  # of the readings, over the square root of the relative variance
    free: NDArray[np.bool_]
    chi2: float


def _solve(model: Model, data: Data) -> _Raw:
    """Levenberg-Marquardt in the logarithms of the parameters, kept inside their ranges."""
    low = np.log([p.low for p in model.parameters])
    high = np.log([p.high for p in model.parameters])
    root = np.sqrt(data.variance)
    log_p = np.log(data.pascal)
    # What is expected of a parameter counts as one more reading, as noisy as the others.
    known = [i for i, p in enumerate(model.parameters) if p.expected is not None]
    expected = np.log([model.parameters[i].expected or 1.0 for i in known])
    weight = (scatter(log_p) or NOISE) / np.array([model.parameters[i].spread for i in known])

    def residuals(theta: Floats) -> Floats:
        """Of one set of parameters, or a row for each row of them."""
        curve = model.curve(data.seconds, *np.exp(theta.T)[..., np.newaxis])
        off = (log_p - np.log(curve)) / root
        if not known:
            return off
        return np.concatenate([off, weight * (theta[..., known] - expected)], axis=-1)

    best: tuple[float, Floats] | None = None
    for start in model.starts:
        theta = np.clip(np.log(start), low, high)
        chi2, theta = _descend(residuals, theta, low, high)
        if best is None or chi2 < best[0]:
            best = chi2, theta
    if best is None:
        raise ValueError(f"{model.name} has no start")
    chi2, theta = best
    free = (theta > low + 1e-6) & (theta < high - 1e-6)
    found = residuals(theta)
    slope = _jacobian(residuals, theta, found)
    return _Raw(model, theta, slope, found[: len(data)], free, chi2)


def _jacobian(residuals: Callable[[Floats], Floats], theta: Floats, here: Floats) -> Floats:
    return ((residuals(theta + 1e-6 * np.eye(len(theta))) - here) / 1e-6).T


def _descend(
    residuals: Callable[[Floats], Floats], theta: Floats, low: Floats, high: Floats
) -> tuple[float, Floats]:
    here = residuals(theta)
    chi2, damping = float(here @ here), 1e-2
    for _ in range(_ROUNDS):
        slope = _jacobian(residuals, theta, here)
        gradient = slope.T @ here
        # A parameter at its limit that would move outward stays where it is.
        stuck = ((theta <= low) & (gradient > 0)) | ((theta >= high) & (gradient < 0))
        active = ~stuck
        if not active.any():
            break
        square = slope[:, active].T @ slope[:, active]
        better = False
        while damping < 1e8:
            matrix = square + damping * np.diag(np.diag(square) + 1e-12)
            step = np.zeros_like(theta)
            step[active] = -np.linalg.solve(matrix, gradient[active])
            tried = np.clip(theta + np.clip(step, -2, 2), low, high)
            if np.abs(tried - theta).max() < _NO_STEP:
                break
            there = residuals(tried)
            new = float(there @ there)
            if math.isfinite(new) and new < chi2:
                better = True
                break
            damping *= 5
        if not better:
            break
        gain = chi2 - new
        theta, here, chi2, damping = tried, there, new, max(damping / 8, 1e-9)
        if gain < 1e-9 * (chi2 + 1e-12):
            break
    return chi2, theta


def _together(residuals: Floats) -> float:
    """How many times too many the readings are, from their correlation with the next one.

    (1 + r)/(1 - r) for a first-order autoregressive series (Bayley and Hammersley, J. R. Stat.
    Soc. Suppl. 8 (1946) 184).
    """
    n = len(residuals)
    power = float(residuals @ residuals)
    if n < 10 or power == 0:
        return 1.0
    r = float(residuals[1:] @ residuals[:-1]) / power
    r = min(max(r, 0.0), 0.98)
    return (1 + r) / (1 - r)


def _fit(raw: _Raw, data: Data, together: float) -> Fit:
    readings = len(data) / together
    k = len(raw.theta)
    chi2 = raw.chi2 / together
    spare = max(readings - k, 0.0) + EXPECTED
    variance = (chi2 + EXPECTED * NOISE**2) / spare
    likely = (
        -0.5
        * (readings + EXPECTED)
        * math.log((chi2 + EXPECTED * NOISE**2) / (readings + EXPECTED))
    )
    covariance = np.full((k, k), math.nan)
    places = np.flatnonzero(raw.free)
    if len(places):
        slope = raw.jacobian[:, places]
        square = slope.T @ slope / together
        wide = (student95(spare) / Z95) ** 2
        covariance[np.ix_(places, places)] = (
            variance * wide * np.linalg.pinv(square, hermitian=True)
        )
    return Fit(
        model=raw.model,
        values=np.exp(raw.theta),
        covariance=covariance,
        log_likelihood=likely,
        scatter=math.sqrt(variance),
        readings=readings,
    )


def student95(freedom: float) -> float:
    """The 97.5 % point of Student's t, within 0.5 % from three degrees of freedom on.

    Fisher's expansion about the normal point (Abramowitz and Stegun, 26.7.5).

    >>> round(student95(10), 3)
    2.228
    """
    z, v = Z95, max(freedom, 1.0)
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + sum(term / v ** (i + 1) for i, term in enumerate(terms))
