"""A log of the discharge: current against time, with pressure and voltage if they are there.

What is told: drift, steps, arcs (short jumps), a slow or quick swing, times at which the glow was
out, and whether the current follows the pressure or goes ahead of it. A log cannot see where a
spark sits, nor whether a hand was at the needle valve, and the sentence claims neither.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.current.drift import Drift, fit_drift
from troubleshoot.readings.reading import Estimate, Reading
from troubleshoot.readings.trend import Z95, Trend
from troubleshoot.sources.log_file import Table
from troubleshoot.sources.points import display_step
from troubleshoot.sources.rows import Floats

READER = "currents 3"
MOST_CURRENT = 100.0
"""A. A carbon source takes tens of amperes, a glow a tenth of one."""
OUT = 0.1
"""Below this share of the usual current the glow is out. Judgement, as are all numbers here that
name no source."""
OUT_SECONDS = 1.0
"""Shorter than this it is a jump, not going out."""
SHORTEST, FEWEST = 10.0, 20
"""A log of a discharge needs so many seconds and rows."""
STRIKING = 3.0
"""s. A glow that has just struck jerks; at most a tenth of the log is left out for it."""
WINDOW = 5.0
"""s, over which the running level is taken."""
JUMP, NOISES = 0.1, 6.0
"""A jump leaves the level by this share of it, and by this many times the scatter."""
STEP = 0.08
"""A step changes the level by this share at once."""
TWO_MINUTES = 120.0
DRIFTS = 0.1
"""From this change in two minutes on it is a drift, and not the small change of any discharge."""
HOLDS = 0.2
"""The pressure is steady within a fifth, as its finding says."""
DEPTHS = 0.2
"""How far the depths of jumps lie apart, before any is seen."""
OF_MEDIAN = 1.2533
"""The standard error of a median over that of a mean, for normal scatter."""
UNSEEN = 2.0
"""Of a Poisson count n, the 95 % interval reaches about to n + 1.96 sqrt(n + 2), at n = 0 too."""
JUMPS_A_MINUTE = 0.5
"""From so many jumps a minute on the needle is said to twitch."""
ONE_STEP = 0.7
"""P(an operator calls it a jump) of a single step."""
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
QUICK = 10.0
"""s. A needle that swings faster than this looks restless; a slower swing is seen as drifting."""
GAUGE_SECONDS = 2.0
"""s. A heat-loss gauge is this late; a lag within it is no lag."""
GAUGE_BLUR = 0.2
"""s. It also smooths what it shows; how late a smoothed change seems depends on its shape."""
LONGEST_LAG = 30.0
LEAST_SHARE = 0.01
MOST_POINTS = 4000
RELATIONS = ("follows", "together", "leads", "unrelated")


@dataclass(frozen=True)
class Event:
    """Something at `start`, `seconds` long; `depth`: the share of the current that it departs by.

    The share is of what was there before. A step's depth has a sign (below zero: down).
    """

    kind: str  # "jump", "step" or "out"
    start: float
    seconds: float
    depth: float


@dataclass(frozen=True)
class Swing:
    """A periodic change: period in s, depth from crest to trough in A.

    `curve`: what it adds to the current at each row of the running part, in A.
    """

    period: Estimate
    depth: Estimate
    curve: Floats


@dataclass(frozen=True)
class CurrentAnalysis:
    """Everything the reader made of a log. `relation`: P of each of `RELATIONS`, or empty.

    `run`: the rows with the glow on; `drifts`: what was fitted to current, voltage and pressure
    there, of those that hold enough rows.
    """

    table: Table
    run: "Trace"
    drifts: Mapping[str, Drift]
    relation: Mapping[str, float]
    reading: Reading

    @property
    def events(self) -> tuple[Event, ...]:
        """What happened, in order."""
        return self.run.events

    @property
    def swing(self) -> Swing | None:
        """The periodic change, if there is one."""
        return self.run.swing

    def of(self, kind: str) -> list[Event]:
        """The events of one kind."""
        return [e for e in self.events if e.kind == kind]


@dataclass(frozen=True)
class Trace:
    """The running part of a log. `lit`: rows with the glow on; `steady`: of these, no jump."""

    seconds: Floats
    amps: Floats
    level: float
    lit: NDArray[np.bool_]
    steady: NDArray[np.bool_]
    events: tuple[Event, ...]
    swing: Swing | None = None

    @property
    def minutes(self) -> float:
        """How long it ran, pauses and all."""
        return float(self.seconds[-1] - self.seconds[0]) / 60

    @property
    def even(self) -> Floats:
        """The current without its swing, in A."""
        return self.amps if self.swing is None else self.amps - self.swing.curve

    def of(self, kind: str) -> list[Event]:
        """The events of one kind."""
        return [e for e in self.events if e.kind == kind]

    @property
    def watched(self) -> float:
        """How long a jump could have been seen, in s: not while one is on, nor while it is out."""
        steps = np.diff(self.seconds)
        both = self.steady[1:] & self.steady[:-1]
        return max(float(steps[both & (steps < WINDOW)].sum()), float(np.median(steps)))


def runs_current(table: Table) -> bool:
    """Whether any current flows in the log; else the table is one of pressures only."""
    return bool(np.nanmax(np.abs(table.columns["current"])) > 0)


def analyse(
    table: Table, findings: Mapping[str, Finding], machine: Machine | None = None
) -> CurrentAnalysis:
    """Read the log of one coating. Raises `UserError` if no discharge runs in it long enough."""
    machine = machine or Machine()
    first, last = _running(table)
    part = slice(first, last + 1)
    seconds = table.seconds[part]
    volts = table.columns.get("voltage")
    if volts is not None:
        volts = np.abs(volts[part])
    run = _run(seconds, np.abs(table.columns["current"][part]), volts)
    stepped, swing = _with_steps(run), _swing(run)
    if swing is None or _left_by_steps(stepped) < _left_by_swing(run, swing):
        run = stepped
    else:
        # Jumps stand out better from what the swing leaves.
        run = _run(seconds, run.amps, volts, swing)
    drifts = {"current": _drift(run, run.even, run.steady)}
    relation: dict[str, float] = {}
    numbers = _numbers(run, drifts["current"])
    if volts is not None:
        good = run.steady & np.isfinite(volts)
        drifts["voltage"] = _drift(run, volts, good)
        _level_and_change(numbers, "voltage", "V", run, volts, good, drifts["voltage"])
    pressure = table.columns.get("pressure")
    if pressure is not None:
        shown = pressure[part]
        usable = np.isfinite(shown) & (shown > 0)
        if usable.sum() >= FEWEST:
            drifts["pressure"] = _drift(run, shown, usable, steps=False)
            _level_and_change(numbers, "pressure", "Pa", run, shown, usable, drifts["pressure"])
            relation, lag = _relation(run, shown, usable)
            if lag is not None:
                numbers["current_after_pressure"] = lag
    soft = _findings(run, numbers, findings, machine)
    reading = Reading(
        kind="current log",
        source=table.source,
        sha256=table.sha256,
        reader=READER,
        sentence=_sentence(run, numbers, relation, machine),
        numbers=numbers,
        findings=soft,
        taken=table.taken,
    )
    found = {name: drift for name, drift in drifts.items() if drift is not None}
    return CurrentAnalysis(table, run, found, relation, reading)


# The running part and what happens in it


def _running(table: Table) -> tuple[int, int]:
    """First and last row with the glow on: before is waiting, after it nobody can tell."""
    amps = np.abs(table.columns["current"])
    if np.nanmax(amps) > MOST_CURRENT:
        raise UserError(
            f"{table.source}: a current of {np.nanmax(amps):.3g} A is none of a bench-top coater "
            f"(up to {MOST_CURRENT:g} A); is it the right column, in the right unit?"
        )
    top = float(np.quantile(amps[amps > 0], 0.9)) if (amps > 0).any() else 0.0
    on = np.flatnonzero(amps > OUT * top)
    first, last = (int(on[0]), int(on[-1])) if len(on) else (0, 0)
    seconds = float(table.seconds[last] - table.seconds[first])
    if seconds < SHORTEST or last - first + 1 < FEWEST:
        raise UserError(
            f"{table.source}: the current runs for {seconds:.0f} s and {last - first + 1} rows; "
            f"at least {SHORTEST:.0f} s and {FEWEST} rows are needed."
        )
    return first, last


def _run(seconds: Floats, amps: Floats, volts: Floats | None, swing: Swing | None = None) -> Trace:
    top = float(np.quantile(amps, 0.9))
    lit = amps > OUT * top
    level = float(np.median(amps[lit]))
    events: list[Event] = []
    for a, b in _stretches(~lit):
        seconds_out = _length(seconds, a, b)
        if seconds_out >= OUT_SECONDS:
            events.append(Event("out", float(seconds[a]), seconds_out, 1.0))
        else:
            lit[a : b + 1] = True
    away = _away(seconds, amps if swing is None else amps - swing.curve, lit)
    if volts is not None:
        away = np.maximum(away, _away(seconds, volts, lit & np.isfinite(volts)))
    steady = lit & (away == 0)
    for a, b in _stretches(away > 0):
        if a == 0:
            steady[: b + 1] = lit[: b + 1]  # it settles
        # At its ends, and beside a pause, the glow strikes or dies: that is no jump.
        elif b < len(lit) - 1 and lit[a - 1] and lit[b + 1]:
            depth = float(np.median(away[a : b + 1]))
            events.append(Event("jump", float(seconds[a]), _length(seconds, a, b), depth))
    return Trace(seconds, amps, level, lit, steady, _in_order(events), swing)


def _with_steps(run: Trace) -> Trace:
    steps = _steps(run.seconds, run.amps, run.steady, run.level)
    # Right at a step the running level lags, and single rows stand out by as much as the step.
    others = [
        e for e in run.events
        if not any(
            e.kind == "jump" and abs(e.start - s.start) < 1 and e.depth < 1.3 * abs(s.depth)
            for s in steps
        )
    ]  # fmt: skip
    steady = run.steady.copy()
    for event in run.of("jump"):
        if event not in others:
            after = event.start + event.seconds
            steady |= run.lit & (run.seconds >= event.start) & (run.seconds < after)
    return replace(run, steady=steady, events=_in_order([*others, *steps]))


def _in_order(events: Sequence[Event]) -> tuple[Event, ...]:
    return tuple(sorted(events, key=lambda e: e.start))


def _stretches(true: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last place of every run of True."""
    edges = np.diff(np.concatenate([[0], true.astype(np.int8), [0]]))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1) - 1
    return list(zip(starts.tolist(), ends.tolist(), strict=True))


def _length(seconds: Floats, a: int, b: int) -> float:
    """How long rows a to b last: up to the row after."""
    return float(seconds[min(b + 1, len(seconds) - 1)] - seconds[a])


def _rows_in(seconds: Floats, span: float) -> int:
    return max(2, round(span / max(float(np.median(np.diff(seconds))), 1e-9)))


def _away(seconds: Floats, values: Floats, good: NDArray[np.bool_]) -> Floats:
    """By what share of its running median a reading jumps away from it; 0 where it does not."""
    out = np.zeros(len(values))
    places = np.flatnonzero(good)
    if len(places) < FEWEST:
        return out
    kept = values[places]
    level = float(np.median(kept))
    if level <= 0:
        return out
    half = max(4, min(_rows_in(seconds, WINDOW) // 2, len(kept) // 4))
    window = np.lib.stride_tricks.sliding_window_view(
        np.pad(kept, half, mode="reflect"), 2 * half + 1
    )
    running = _medians(window)
    departs = np.abs(kept - running) / np.maximum(running, OUT * level)
    scatter = 1.4826 * float(np.median(departs))
    step = float(np.median(display_step(np.maximum(kept, 1e-12)))) / level
    limit = max(JUMP, NOISES * scatter, 1.6 * step)
    out[places] = np.where(departs > limit, departs, 0.0)
    return out


def _medians(window: Floats) -> Floats:
    """Median of each row, with few samples a row: a running level needs no more."""
    stride = max(1, window.shape[1] // 41)
    return np.asarray(np.median(window[:, ::stride], axis=1))


def _steps(seconds: Floats, amps: Floats, steady: NDArray[np.bool_], level: float) -> list[Event]:
    """Places at which the level changes at once and is quiet before and after."""
    groups = np.array_split(np.flatnonzero(steady), min(int(steady.sum()), MOST_POINTS))
    places = np.array([g[0] for g in groups])
    half = min(_rows_in(seconds[places], WINDOW), len(places) // 4)
    if half < 4:
        return []
    # Few points do: a step is sought within seconds.
    y = amps[places] if len(places) == steady.sum() else _of_groups(amps, groups)
    window = np.lib.stride_tricks.sliding_window_view(y, half)
    medians = np.median(window, axis=1)
    firsts, lasts = (np.median(window[:, part], axis=1) for part in _halves(half))
    within = np.abs(lasts - firsts)
    jump = (medians[half:] - medians[:-half]) / level
    # Over a gap in the log any drift looks like a step.
    lasts_for = seconds[places[2 * half - 1 :]] - seconds[places[: len(places) - 2 * half + 1]]
    whole = lasts_for <= 1.5 * float(np.median(lasts_for))
    # Scatter from second differences, which neither a drift nor a step touches.
    scatter = 1.4826 * float(np.median(np.abs(np.diff(y, 2)))) / math.sqrt(6) / level
    quiet = np.maximum(within[half:], within[:-half]) / level
    limit = max(STEP, NOISES * scatter * math.sqrt(2 / half), 1.6 * _display(y) / level)
    found = (np.abs(jump) > limit) & (quiet < 0.3 * np.abs(jump)) & whole
    out = []
    for a, b in _stretches(found):
        best = a + int(np.argmax(np.abs(jump[a : b + 1])))
        share = float(jump[best]) * level / float(medians[best])
        out.append(Event("step", float(seconds[places[best + half]]), 0.0, share))
    return out


def _of_groups(values: Floats, groups: Sequence[NDArray[np.intp]]) -> Floats:
    return np.array([float(np.median(values[g])) for g in groups])


def _halves(count: int) -> tuple[slice, slice]:
    return slice(0, count // 2), slice(count - count // 2, count)


# Drift and swing


def _drift(
    run: Trace, values: Floats, good: NDArray[np.bool_], *, steps: bool = True
) -> Drift | None:
    """The drift of the current, or of what was logged beside it, once the glow has struck.

    `steps`: whether it steps where the current does.
    """
    seconds = run.seconds
    used = good & (seconds >= seconds[0] + min(STRIKING, 6 * run.minutes))
    row = float(np.median(np.diff(seconds)))
    places = [e.start for e in run.of("step")] if steps else []
    for at in places:
        # Where exactly it steps is not known.
        used = used & (np.abs(seconds - at) > max(0.5, 1.5 * row))
    return fit_drift(seconds, values, used, places, _pauses(run), _display(values[used]))


def _pauses(run: Trace) -> list[float]:
    """When the glow comes back, and when the log goes on after a gap."""
    gaps = np.diff(run.seconds)
    long = gaps > max(OUT_SECONDS, 5 * float(np.median(gaps)))
    return sorted([*(e.start + e.seconds for e in run.of("out")), *run.seconds[1:][long].tolist()])


def _left_by_swing(run: Trace, swing: Swing) -> float:
    """The variance that a line and the swing leave."""
    return _left(run, [], run.amps - swing.curve)


def _left_by_steps(run: Trace) -> float:
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


def _display(values: Floats) -> float:
    """The step of the display that is usual in these values."""
    shown = values[np.isfinite(values) & (values > 0)]
    return float(np.median(display_step(shown))) if len(shown) else 0.0


def _level_and_change(
    numbers: dict[str, Estimate], name: str, unit: str, run: Trace, values: Floats,
    good: NDArray[np.bool_], drift: Drift | None,
) -> None:  # fmt: skip
    """The mean and the relative change in two minutes, if the values determine them."""
    if drift is None:
        return
    level = _level(drift, values, good, run.lit & np.isfinite(values), unit)
    if level.value > 0:
        numbers[name], numbers[f"{name}_change"] = level, _in_two_minutes(drift, level)


def _level(
    drift: Drift, values: Floats, good: NDArray[np.bool_], lit: NDArray[np.bool_], unit: str
) -> Estimate:
    """The mean while the glow is on, with the fitted curve in place of readings amid a jump."""
    mean = float(np.mean(np.where(good, values, drift.curve)[lit]))
    return Estimate(mean, drift.level_sigma, unit)


def _in_two_minutes(drift: Drift, level: Estimate) -> Estimate:
    """The change in two minutes as a share of the level."""
    change = TWO_MINUTES * drift.line.slope / level.value
    sigma = TWO_MINUTES * drift.line.sigma / level.value
    return Estimate(change, math.hypot(sigma, change * level.sigma / level.value), "")


def _swing(run: Trace) -> Swing | None:
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


def _least_squares(design: Floats, values: Floats) -> Floats:
    """By the normal equations: the columns are few and of size one."""
    normal = design.T @ design
    return np.asarray(np.linalg.lstsq(normal, design.T @ values, rcond=1e-12)[0])


# Current and pressure


def _relation(
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


# What is told


def _numbers(run: Trace, drift: Drift | None) -> dict[str, Estimate]:
    if drift is None:
        kept = run.even[run.lit]
        level = Estimate(float(np.median(kept)), float(np.std(kept)), "A")
    else:
        level = _level(drift, run.even, run.steady, run.lit, "A")
    out = {
        "current": level,
        "ran_for": Estimate(60 * run.minutes, 0.0, "s"),
    }
    if drift is not None:
        out["change_in_two_minutes"] = _in_two_minutes(drift, out["current"])
    jumps = run.of("jump")
    out["jump_rate"] = Estimate(
        len(jumps) / run.watched, math.sqrt(len(jumps) + UNSEEN) / run.watched, "1/s"
    )
    if jumps:
        depths = [e.depth for e in jumps]
        # Of such jumps, not of those seen only: one alone says little of the next.
        spread = math.sqrt((float(np.var(depths)) * len(depths) + DEPTHS**2) / len(depths))
        sigma = OF_MEDIAN * spread / math.sqrt(len(depths))
        out["jump_depth"] = Estimate(float(np.median(depths)), sigma, "")
    gone = [e.seconds for e in run.of("out")]
    out["times_out"] = Estimate(float(len(gone)), 0.0, "")
    if gone:
        row = float(np.median(np.diff(run.seconds)))
        out["seconds_out"] = Estimate(sum(gone), row * math.sqrt(len(gone) / 6), "s")
    if run.swing is not None:
        depth = run.swing.depth
        out["swing_period"] = run.swing.period
        out["swing_depth"] = Estimate(depth.value / level.value, depth.sigma / level.value, "")
    return out


def _findings(
    run: Trace,
    numbers: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    machine: Machine,
) -> dict[str, tuple[float, ...]]:
    told: dict[str, dict[str, float]] = {}
    over_time = _over_time(run, numbers)
    if over_time is not None:
        told["current_over_time"] = over_time
    change = numbers.get("pressure_change")
    if change is not None:
        falls, climbs = _beyond(change, -HOLDS), _beyond(change, HOLDS)
        told["pressure_hold"] = {"falls": falls, "steady": 1 - falls - climbs, "climbs": climbs}
    at_reference = _at_reference(numbers, machine)
    if at_reference is not None:
        told["current_at_reference"] = at_reference
    return {
        name: tuple(max(shares.get(answer, 0.0), LEAST_SHARE) for answer in findings[name].answers)
        for name, shares in told.items()
        if name in findings and machine.allows(findings[name].machine)
    }


def _beyond(change: Estimate, edge: float) -> float:
    """P(true change lies beyond the edge, away from zero)."""
    line = Trend(change.value, math.hypot(change.sigma, 0.1 * abs(edge)), 0.0, 0.0)
    above = line.probability_above(edge)
    return above if edge > 0 else 1 - above


def _over_time(run: Trace, numbers: Mapping[str, Estimate]) -> dict[str, float] | None:
    """Going out says more than jumping, jumping more than drifting, drifting more than nothing."""
    change = numbers.get("change_in_two_minutes")
    if change is None:
        return None
    kinds = [e.kind for e in run.events]
    swing = run.swing
    out = 1 - 0.05 ** kinds.count("out")
    jumps = kinds.count("jump")
    restless = _often(jumps, run.minutes, JUMPS_A_MINUTE) if jumps else 0.0
    if "step" in kinds:
        restless = max(restless, ONE_STEP)
    if swing is not None and numbers["swing_depth"].value >= JUMP and swing.period.value <= QUICK:
        restless = max(restless, 0.9)
    down, up = _beyond(change, -DRIFTS), _beyond(change, DRIFTS)
    quiet = (1 - out) * (1 - restless)
    if swing is not None and numbers["swing_depth"].value >= JUMP and swing.period.value > QUICK:
        # None of the answers describes a slow swing, so it speaks for none of them.
        return {**dict.fromkeys(("steady", "drifts_down", "drifts_up", "flickers"), (1 - out) / 4),
                "cuts_out": out}  # fmt: skip
    return {
        "steady": quiet * max(1 - down - up, 0.0),
        "drifts_down": quiet * down,
        "drifts_up": quiet * up,
        "flickers": (1 - out) * restless,
        "cuts_out": out,
    }


def _often(count: int, minutes: float, rate: float) -> float:
    """P(true rate > `rate` a minute | `count` seen): gamma posterior of a flat prior."""
    x = rate * minutes
    term = total = math.exp(-x)
    for k in range(1, count + 1):
        term *= x / k
        total += term
    return min(total, 1.0)


def _at_reference(numbers: Mapping[str, Estimate], machine: Machine) -> dict[str, float] | None:
    """Against the usual current, where the pressure is known to be the usual one."""
    usual, at = machine.numbers.get("usual_current"), machine.numbers.get("usual_pressure")
    pressure = numbers.get("pressure")
    if not usual or not at or pressure is None or not 0.9 < pressure.value / at < 1.1:
        return None
    ratio = numbers["current"].value / usual
    low = _beyond(Estimate(ratio - 1, 0.05, ""), -0.2)
    high = _beyond(Estimate(ratio - 1, 0.05, ""), 0.2)
    return {"zero": 0.0, "low": low, "usual": 1 - low - high, "high": high}


# The sentence

RELATION = {
    "follows": "it follows the pressure, so look at the gas, the pump and the needle valve",
    "together": "it moves with the pressure, as the current does where the voltage is fixed",
    "leads": (
        "it moves before the pressure does, so the discharge frees gas, or the cause is electrical"
    ),
    "unrelated": "it does not go with the pressure, so look at the electrical side",
}


def _sentence(
    run: Trace,
    numbers: Mapping[str, Estimate],
    relation: Mapping[str, float],
    machine: Machine,
) -> str:
    lasted = f"{60 * run.minutes:.0f} s" if run.minutes < 2 else f"{run.minutes:.2g} min"
    mean = units.format_in(numbers["current"].value, "mA", "current")
    said = [f"In {lasted} at about {mean} the current {_moves(numbers)}"]
    kinds = [e.kind for e in run.events]
    if jumps := kinds.count("jump"):
        depth = 100 * numbers["jump_depth"].value
        rate = units.format_number(60 * numbers["jump_rate"].value)
        said.append(f"jumps {_times(jumps)} ({rate} a minute, by {depth:.0f} %)")
    if steps := kinds.count("step"):
        said.append(f"steps to another level {_times(steps)}")
    if gone := kinds.count("out"):
        said.append(f"goes out {_times(gone)} (for {numbers['seconds_out'].value:.0f} s in all)")
    if run.swing is not None:
        period = units.format_number(run.swing.period.value)
        said.append(f"swings by {100 * numbers['swing_depth'].value:.0f} % every {period} s")
    text = said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
    moved = len(said) > 1 or "stays" not in said[0]
    best = max(relation, key=relation.__getitem__, default="")
    if moved and best and relation[best] >= 0.7:
        text += f"; {RELATION[best]} ({100 * relation[best]:.0f} %)"
    elif moved and best:
        text += "; whether it follows the pressure or goes ahead of it cannot be told"
    if machine.facts.get("current_set_by") == "controller":
        text += ". A controller holds this current, so the voltage tells more"
        if "voltage_change" in numbers:
            text += f": it {_moves(numbers, 'voltage_change')}"
    return text + "."


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _moves(numbers: Mapping[str, Estimate], name: str = "change_in_two_minutes") -> str:
    change = numbers.get(name)
    if change is None:
        return "runs too short for a drift"
    wide = Z95 * change.sigma
    if abs(change.value) <= wide:
        most = math.ceil(100 * (abs(change.value) + wide))
        return f"stays as it is (to within {most} % in two minutes)"
    # A drift of a few percent is what every discharge does.
    word = "sinks" if change.value < 0 else "rises"
    if abs(change.value) + wide < DRIFTS:
        return f"stays about as it is ({word} by {_percent(abs(change.value))} in two minutes)"
    size = _percent(abs(change.value))
    return f"{word} by {size} (give or take {_percent(wide)}) in two minutes"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "less than 1 %"
