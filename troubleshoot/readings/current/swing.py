"""A periodic change of the current: its period and depth, and whether steps explain it better.

Numbers that name no source are judgement.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.current.trace import FEWEST, JUMP, NOISES, STRIKING, Swing, Trace
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.rows import Floats

SWING, LEAST_FIT, PERIODS = 0.05, 0.4, 4
"""A swing has this depth from crest to trough, explains this share of the variance that the drift
leaves, and repeats so often in the log."""
UNKNOWN_SHAPE = 0.1
"""Of the depth of a swing of which there are too few rows: a triangle is 1.23 times its sine."""
MOST_PHASES, LEAST_PHASES, ROWS_A_PHASE = 24, 12, 8
"""Into how many steps of its phase a swing is laid, and how many rows each of them needs."""
NOT_A_SINE = 2.0
"""Mean square of what the phases leave of a sine, over their scatter, from which it is none."""
MOST_SPECTRUM = 1 << 16
SETTLES = (2.5, 8.0)
"""s. Settling beside a swing is any sum of exp(-t/tau) with these."""


def swing_of(run: Trace) -> Swing | None:
    """The strongest period; jumps, which a swing hides at first, are left out on a second look."""
    kept = run.steady & (run.seconds >= run.seconds[0] + min(STRIKING, 6 * run.minutes))
    first = _sine(run, kept)
    if first is None:
        return None
    _, rest = first
    off = np.abs(rest - np.median(rest))
    wild = off > max(NOISES * 1.4826 * float(np.median(off)), JUMP * run.level)
    kept[np.flatnonzero(kept)[wild]] = False
    second = _sine(run, kept)
    if second is None:
        return None
    swing, rest = second
    wave, period, size = swing.curve[kept], swing.period.value, 0.5 * swing.depth.value
    likely = float(wave.var()) >= LEAST_FIT * float((wave + rest).var())
    lasts = 60 * run.minutes / PERIODS
    # What is deeper than the level would turn the current round.
    return swing if likely and period <= lasts and 0.5 * SWING < size / run.level < 1 else None


def _sine(run: Trace, kept: NDArray[np.bool_]) -> tuple[Swing, Floats] | None:
    """The strongest sine in what drift and settling leave of these rows, and what it leaves.

    Its uncertainty is that of a least-squares sine under the noise at the frequencies beside it
    (for white noise the Cramer-Rao bound: Rife and Boorstyn, IEEE Trans. Inf. Theory 20 (1974)
    591).
    """
    t, amps = run.seconds[kept], run.amps[kept]
    if len(t) < FEWEST:
        return None
    span, middle = float(t[-1] - t[0]), 0.5 * float(t[0] + t[-1])
    grid = np.linspace(t[0], t[-1], min(len(t), MOST_SPECTRUM))
    x = (t - middle) / span
    slow = [np.ones_like(x), x, x**2, *(np.exp((t[0] - t) / tau) for tau in SETTLES)]
    line = np.stack(slow[:2], axis=1)
    best = _strongest(np.interp(grid, t, amps - line @ _least_squares(line, amps)))
    if best is None:
        return None
    omega = 2 * np.pi * best / span
    for _ in range(4):  # Gauss and Newton; the first guess is within a fraction of a line
        cos, sin = np.cos(omega * (t - middle)), np.sin(omega * (t - middle))
        flat = np.stack([cos, sin, *slow], axis=1)
        answer = _least_squares(flat, amps)
        p, q = answer[:2]
        full = np.column_stack([x * (q * cos - p * sin), flat])
        omega += float(np.clip(_least_squares(full, amps)[0], -1, 1)) / span
    rest = amps - flat @ answer
    period, size = 2 * math.pi / omega, math.hypot(p, q)
    lines = [best + k for k in range(-5, 6) if abs(k) > 1 and 1 <= best + k < len(t) / 2]
    if size == 0 or not lines:
        return None
    beside = [abs(rest @ np.exp(-2j * np.pi * k * x)) ** 2 for k in lines]
    noise = float(np.mean(beside)) / (len(t) - full.shape[1])
    covariance = noise * np.linalg.pinv(full.T @ full, rcond=1e-12, hermitian=True)
    # The noise is known from two degrees of freedom a line: Student's t against the normal.
    widened = 1 + 1.21 / (2 * len(lines))
    along = np.array([p, q]) / size
    late = math.sqrt(covariance[0, 0]) / span * period / omega
    deep = 2 * math.sqrt(along @ covariance[1:3, 1:3] @ along)
    angle = omega * (run.seconds - middle)
    wave = p * np.cos(angle) + q * np.sin(angle)
    depth = _folded(omega * (t - middle), wave[kept], rest)
    if depth is None:
        shape = 0.0 if len(t) >= LEAST_PHASES * ROWS_A_PHASE else UNKNOWN_SHAPE
        depth = Estimate(2 * size, math.hypot(widened * deep, shape * 2 * size), "A")
    return Swing(Estimate(period, widened * late, "s"), depth, wave), rest


def _folded(angle: Floats, wave: Floats, rest: Floats) -> Estimate | None:
    """The depth from crest to trough of a swing of another shape than a sine, in A; else None.

    All periods are laid over each other in steps of their phase. If the means there leave the sine
    by more than their scatter, they say how deep it is themselves. A mean over a step rounds a
    sharp crest, by a quarter to a half of what its sides fall by within a step.
    """
    steps = min(MOST_PHASES, len(angle) // ROWS_A_PHASE)
    if steps < LEAST_PHASES:
        return None
    place = ((angle / (2 * np.pi)) % 1 * steps).astype(int)
    count = np.bincount(place, minlength=steps)
    if count.min() < ROWS_A_PHASE // 2:
        return None

    def means(values: Floats) -> Floats:
        return np.asarray(np.bincount(place, values, minlength=steps) / count)

    off = means(rest)
    error = np.sqrt(np.maximum(means(rest**2) - off**2, 0) / count)
    if float(np.mean((off / np.maximum(error, 1e-12)) ** 2)) < NOT_A_SINE:
        return None
    shape = means(wave) + off
    crest, trough = int(np.argmax(shape)), int(np.argmin(shape))
    noise = math.hypot(error[crest], error[trough])
    # The highest of several that are alike is high by chance.
    high = shape[shape >= shape[crest] - 3 * error[crest]].mean()
    low = shape[shape <= shape[trough] + 3 * error[trough]].mean()
    deep = float(high - low)
    rounded = doubt = 0.0
    for k in (crest, trough):
        side = max(abs(float(shape[k] - shape[(k + by) % steps])) for by in (-1, 1))
        sharp = side < 0.2 * deep  # else it is the edge of a square one
        rounded, doubt = rounded + 0.35 * side * sharp, doubt + min(0.2 * side, 0.03 * deep)
    return Estimate(deep + rounded, math.hypot(noise, doubt), "A")


def _strongest(left: Floats) -> float | None:
    """How many periods the strongest sine has in evenly spaced values; None if there is none."""
    power = np.abs(np.fft.rfft(left * np.hanning(len(left)))) ** 2
    lowest = PERIODS + 1
    if left.std() == 0 or len(power) <= lowest + 2:
        return None
    best = lowest + int(np.argmax(power[lowest:-1]))
    # The peak lies between the lines of the transform: a parabola through three of them.
    a, b, c = np.log(np.maximum(power[best - 1 : best + 2], 1e-300))
    curve = a - 2 * b + c
    place = best + (0.5 * float((a - c) / curve) if curve < 0 else 0.0)
    return place * (len(left) - 1) / len(left)


def left_by_swing(run: Trace, swing: Swing) -> float:
    """The variance that a line and the swing leave."""
    return _left(run, [], run.amps - swing.curve)


def left_by_steps(run: Trace) -> float:
    """The variance that a line and the steps leave; inf without a step."""
    steps = [(run.seconds >= e.start).astype(float) for e in run.of("step")]
    if not steps:
        return math.inf
    return _left(run, steps, run.amps)


def _left(run: Trace, columns: Sequence[Floats], values: Floats) -> float:
    x = (run.seconds - run.seconds[0]) / (60 * run.minutes)
    design = np.stack([np.ones_like(x), x, *columns], axis=1)[run.steady]
    kept = values[run.steady]
    return float((kept - design @ _least_squares(design, kept)).var())


def _least_squares(design: Floats, values: Floats) -> Floats:
    """By the normal equations: the columns are few and of size one."""
    normal = design.T @ design
    return np.asarray(np.linalg.lstsq(normal, design.T @ values, rcond=1e-12)[0])
