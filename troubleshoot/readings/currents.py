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

from troubleshoot.errors import UserError
from troubleshoot.knowledge.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.physics import units
from troubleshoot.readings.log_file import Floats, Table, display_step
from troubleshoot.readings.reading import Estimate, Reading
from troubleshoot.readings.trend import Z95, Trend, robust_trend

READER = "currents 1"
OUT = 0.1
"""Below this share of the usual current the glow is out. Judgement, as are all numbers here that
name no source."""
OUT_SECONDS = 1.0
"""Shorter than this it is a jump, not going out."""
SHORTEST, FEWEST = 10.0, 20
"""A log of a discharge needs so many seconds and rows."""
SETTLING = 10.0
"""s. A glow that has just struck settles; at most a fifth of the log is left out for it."""
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
JUMPS_A_MINUTE = 0.5
"""From so many jumps a minute on the needle is said to twitch."""
ONE_STEP = 0.7
"""P(an operator calls it a jump) of a single step."""
SWING, LEAST_FIT, PERIODS = 0.05, 0.4, 4
"""A swing has this depth from crest to trough, explains this share of the variance that the drift
leaves, and repeats so often in the log."""
CREST_FACTOR = 2 * math.sqrt(2)
"""From the standard deviation of a sine to its depth from crest to trough."""
QUICK = 10.0
"""s. A needle that swings faster than this looks restless; a slower swing is seen as drifting."""
GAUGE_SECONDS = 2.0
"""s. A heat-loss gauge is this late; a lag within it is no lag."""
LONGEST_LAG = 30.0
LEAST = 0.01
BINS = 60
MOST_POINTS = 4000
RELATIONS = ("follows", "together", "leads", "unrelated")


@dataclass(frozen=True)
class Event:
    """Something at `start`, `seconds` long; `depth`: the share of the level it departs by.

    A step's depth has a sign (below zero: down).
    """

    kind: str  # "jump", "step" or "out"
    start: float
    seconds: float
    depth: float


@dataclass(frozen=True)
class Swing:
    """A periodic change: period in s, depth from crest to trough as a share of the level."""

    period: float
    depth: float


@dataclass(frozen=True)
class CurrentAnalysis:
    """Everything the reader made of a log. `relation`: P of each of `RELATIONS`, or empty."""

    table: Table
    events: tuple[Event, ...]
    swing: Swing | None
    relation: Mapping[str, float]
    reading: Reading

    def of(self, kind: str) -> list[Event]:
        """The events of one kind."""
        return [e for e in self.events if e.kind == kind]


@dataclass(frozen=True)
class _Run:
    """The running part of a log; `steady` marks rows outside jumps and times when it was out."""

    seconds: Floats
    amps: Floats
    level: float
    steady: NDArray[np.bool_]
    events: tuple[Event, ...]

    @property
    def minutes(self) -> float:
        return float(self.seconds[-1] - self.seconds[0]) / 60

    def without_steps(self) -> Floats:
        """The current as if it had stayed at its first level, in A."""
        out = self.amps.copy()
        for event in self.events:
            if event.kind == "step":
                out[self.seconds >= event.start] -= event.depth * self.level
        return out


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
    volts = table.columns.get("voltage")
    run = _run(
        table.seconds[part], np.abs(table.columns["current"][part]),
        None if volts is None else np.abs(volts[part]),
    )  # fmt: skip
    drift = _drift(run.seconds, run.amps, run.steady)
    swing = None if drift is None else _swing(run, drift)
    if swing is None:
        # The flanks of a swing are no steps, and steps are no drift.
        run = _with_steps(run)
        drift = _drift(run.seconds, run.without_steps(), run.steady)
    pressure = table.columns.get("pressure")
    relation: dict[str, float] = {}
    numbers = _numbers(run, drift, swing)
    if volts is not None:
        numbers["voltage"] = Estimate(float(np.nanmedian(np.abs(volts[part]))), 0.0, "V")
        _change(numbers, "voltage_change", run.seconds, np.abs(volts[part]), run.steady)
    if pressure is not None:
        shown = pressure[part]
        usable = np.isfinite(shown) & (shown > 0)
        if usable.sum() >= FEWEST:
            numbers["pressure"] = Estimate(float(np.median(shown[usable])), 0.0, "Pa")
            _change(numbers, "pressure_change", run.seconds, shown, usable)
            relation, lag = _relation(run, shown, usable)
            if lag is not None:
                numbers["current_after_pressure"] = lag
    soft = _findings(run, numbers, swing, findings, machine)
    reading = Reading(
        kind="current log",
        source=table.source,
        sha256=table.sha256,
        reader=READER,
        sentence=_sentence(run, numbers, swing, relation, machine),
        numbers=numbers,
        findings=soft,
    )
    return CurrentAnalysis(table, run.events, swing, relation, reading)


# The running part and what happens in it


def _running(table: Table) -> tuple[int, int]:
    """First and last row with the glow on: before is waiting, after it nobody can tell."""
    amps = np.abs(table.columns["current"])
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


def _run(seconds: Floats, amps: Floats, volts: Floats | None) -> _Run:
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
    away = _away(seconds, amps, lit)
    if volts is not None:
        away = np.maximum(away, _away(seconds, volts, lit & np.isfinite(volts)))
    jumping = away > 0
    for a, b in _stretches(jumping):
        depth = float(away[a : b + 1].max())
        events.append(Event("jump", float(seconds[a]), _length(seconds, a, b), depth))
    return _Run(seconds, amps, level, lit & ~jumping, _in_order(events))


def _with_steps(run: _Run) -> _Run:
    steps = _steps(run.seconds, run.amps, run.steady, run.level)
    # Right at a step the running level lags, and single rows stand out by as much as the step.
    others = [
        e for e in run.events
        if not any(
            e.kind == "jump" and abs(e.start - s.start) < 1 and e.depth < 1.3 * abs(s.depth)
            for s in steps
        )
    ]  # fmt: skip
    return replace(run, events=_in_order([*others, *steps]))


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
    half = max(4, min(_rows_in(seconds, WINDOW) // 2, len(kept) // 4))
    window = np.lib.stride_tricks.sliding_window_view(
        np.pad(kept, half, mode="reflect"), 2 * half + 1
    )
    running = _medians(window)
    level = float(np.median(kept))
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
    # Scatter from second differences, which neither a drift nor a step touches.
    scatter = 1.4826 * float(np.median(np.abs(np.diff(y, 2)))) / math.sqrt(6) / level
    quiet = np.maximum(within[half:], within[:-half]) / level
    limit = max(STEP, NOISES * scatter * math.sqrt(2 / half))
    found = (np.abs(jump) > limit) & (quiet < 0.3 * np.abs(jump))
    out = []
    for a, b in _stretches(found):
        best = a + int(np.argmax(np.abs(jump[a : b + 1])))
        out.append(Event("step", float(seconds[places[best + half]]), 0.0, float(jump[best])))
    return out


def _of_groups(values: Floats, groups: Sequence[NDArray[np.intp]]) -> Floats:
    return np.array([float(np.median(values[g])) for g in groups])


def _halves(count: int) -> tuple[slice, slice]:
    return slice(0, count // 2), slice(count - count // 2, count)


# Drift and swing


def _drift(seconds: Floats, values: Floats, good: NDArray[np.bool_]) -> Trend | None:
    """The robust line through the values (of medians of up to `BINS` stretches), per second."""
    span = float(seconds[-1] - seconds[0])
    late = good & np.isfinite(values) & (seconds >= seconds[0] + min(SETTLING, span / 5))
    places = np.flatnonzero(late)
    if len(places) < FEWEST // 2:
        return None
    groups = np.array_split(places, min(BINS, len(places)))
    return robust_trend([float(np.mean(seconds[g])) for g in groups], _of_groups(values, groups))


def _change(
    numbers: dict[str, Estimate], name: str, seconds: Floats, values: Floats,
    good: NDArray[np.bool_],
) -> None:  # fmt: skip
    """The relative change in two minutes, if the values determine one."""
    line = _drift(seconds, values, good)
    if line is not None and line.middle > 0:
        scale = TWO_MINUTES / line.middle
        numbers[name] = Estimate(line.slope * scale, line.sigma * scale, "")


def _swing(run: _Run, drift: Trend) -> Swing | None:
    """The strongest period in what drift, jumps and gaps leave, if it is more than chance."""
    span = float(run.seconds[-1] - run.seconds[0])
    count = min(len(run.seconds), 4096)
    grid = np.linspace(run.seconds[0], run.seconds[-1], count)
    kept = run.steady
    left = np.interp(grid, run.seconds[kept], run.amps[kept])
    left = left - np.array([drift.at(t) for t in grid])
    left -= left.mean()
    variance = float(left.var())
    if variance == 0:
        return None
    power = np.abs(np.fft.rfft(left * np.hanning(count))) ** 2
    lowest = PERIODS + 1
    if len(power) <= lowest + 2:
        return None
    best = lowest + int(np.argmax(power[lowest:-1]))
    # The peak lies between the lines of the transform: a parabola through three of them.
    a, b, c = np.log(np.maximum(power[best - 1 : best + 2], 1e-300))
    curve = a - 2 * b + c
    place = best + (0.5 * (a - c) / curve if curve < 0 else 0.0)
    period = span * count / (count - 1) / place
    angle = 2 * np.pi * grid / period
    shape = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    answer, *_ = np.linalg.lstsq(shape, left, rcond=None)
    fitted = shape @ answer
    if float(fitted.var()) < LEAST_FIT * variance:
        return None
    # The depth of what repeats, of whatever shape: from its standard deviation, as for a sine.
    depth = CREST_FACTOR * float(fitted.std()) / run.level
    return Swing(period, depth) if depth >= SWING else None


# Current and pressure


def _relation(
    run: _Run, pascal: Floats, usable: NDArray[np.bool_]
) -> tuple[dict[str, float], Estimate | None]:
    """P(follows), P(together), P(leads), P(unrelated) of the current against the pressure.

    From the correlation r at each lag: ln L = -n/2 ln(1 - r^2) - ln(n)/2, n the number of
    independent readings (Bartlett, J. R. Stat. Soc. Suppl. 8 (1946) 27) and the last term the price
    of a fitted r (Schwarz, Ann. Stat. 6 (1978) 461); all four relations alike
    beforehand. Changes over `WINDOW` are compared, so that two drifts are no relation.
    The lag, in s, is above zero if the current comes after the pressure.
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
        return dict(zip(RELATIONS, (LEAST, LEAST, LEAST, 1 - 3 * LEAST), strict=True)), None
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
    shares = LEAST + (1 - 4 * LEAST) * weight / weight.sum()
    relation = {name: float(w) for name, w in zip(RELATIONS, shares, strict=True)}
    if relation["unrelated"] > 0.5:
        return relation, None
    mass = np.exp(log_l - log_l.max())
    mean = float((mass * lag_s).sum() / mass.sum())
    spread = math.sqrt(float((mass * (lag_s - mean) ** 2).sum() / mass.sum()) + dt**2 / 12)
    return relation, Estimate(mean, spread, "s")


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


def _numbers(run: _Run, drift: Trend | None, swing: Swing | None) -> dict[str, Estimate]:
    out = {
        "current": Estimate(run.level, 0.0, "A"),
        "ran_for": Estimate(60 * run.minutes, 0.0, "s"),
    }
    if drift is not None:
        scale = TWO_MINUTES / run.level
        out["change_in_two_minutes"] = Estimate(drift.slope * scale, drift.sigma * scale, "")
    jumps = [e for e in run.events if e.kind == "jump"]
    # Counts: Poisson, so n + 1 events could as well have been seen as n.
    rate, per = len(jumps) / (60 * run.minutes), math.sqrt(len(jumps) + 1) / (60 * run.minutes)
    out["jump_rate"] = Estimate(rate, per, "1/s")
    if jumps:
        out["jump_depth"] = _median_of([e.depth for e in jumps], "")
    gone = [e.seconds for e in run.events if e.kind == "out"]
    out["times_out"] = Estimate(float(len(gone)), 0.0, "")
    if gone:
        out["seconds_out"] = Estimate(sum(gone), 0.0, "s")
    if swing is not None:
        out["swing_period"] = Estimate(swing.period, swing.period**2 / (120 * run.minutes), "s")
        out["swing_depth"] = Estimate(swing.depth, 0.0, "")
    return out


def _median_of(values: Sequence[float], unit: str) -> Estimate:
    """The median and, for 1.25 standard errors of a mean, its uncertainty (normal scatter)."""
    spread = float(np.std(values, ddof=1)) if len(values) > 1 else 0.0
    return Estimate(float(np.median(values)), 1.2533 * spread / math.sqrt(len(values)), unit)


def _findings(
    run: _Run,
    numbers: Mapping[str, Estimate],
    swing: Swing | None,
    findings: Mapping[str, Finding],
    machine: Machine,
) -> dict[str, tuple[float, ...]]:
    told: dict[str, dict[str, float]] = {}
    over_time = _over_time(run, numbers, swing)
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
        name: tuple(max(shares.get(answer, 0.0), LEAST) for answer in findings[name].answers)
        for name, shares in told.items()
        if name in findings and machine.allows(findings[name].machine)
    }


def _beyond(change: Estimate, edge: float) -> float:
    """P(true change lies beyond the edge, away from zero)."""
    line = Trend(change.value, math.hypot(change.sigma, 0.1 * abs(edge)), 0.0, 0.0)
    above = line.probability_above(edge)
    return above if edge > 0 else 1 - above


def _over_time(
    run: _Run, numbers: Mapping[str, Estimate], swing: Swing | None
) -> dict[str, float] | None:
    """Going out says more than jumping, jumping more than drifting, drifting more than nothing."""
    change = numbers.get("change_in_two_minutes")
    if change is None:
        return None
    kinds = [e.kind for e in run.events]
    out = 1 - 0.05 ** kinds.count("out")
    jumps = kinds.count("jump")
    restless = _often(jumps, run.minutes, JUMPS_A_MINUTE) if jumps else 0.0
    if "step" in kinds:
        restless = max(restless, ONE_STEP)
    if swing is not None and swing.depth >= JUMP and swing.period <= QUICK:
        restless = max(restless, 0.9)
    down, up = _beyond(change, -DRIFTS), _beyond(change, DRIFTS)
    quiet = (1 - out) * (1 - restless)
    if swing is not None and swing.depth >= JUMP and swing.period > QUICK:
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
    run: _Run,
    numbers: Mapping[str, Estimate],
    swing: Swing | None,
    relation: Mapping[str, float],
    machine: Machine,
) -> str:
    minutes = units.format_number(run.minutes)
    mean = units.format_in(run.level, "mA", "current")
    said = [f"In {minutes} min at about {mean} the current {_moves(numbers)}"]
    kinds = [e.kind for e in run.events]
    if jumps := kinds.count("jump"):
        depth = 100 * numbers["jump_depth"].value
        rate = units.format_number(60 * numbers["jump_rate"].value)
        said.append(f"jumps {_times(jumps)} ({rate} a minute, by {depth:.0f} %)")
    if steps := kinds.count("step"):
        said.append(f"steps to another level {_times(steps)}")
    if gone := kinds.count("out"):
        said.append(f"goes out {_times(gone)} (for {numbers['seconds_out'].value:.0f} s in all)")
    if swing is not None:
        period = units.format_number(swing.period)
        said.append(f"swings by {100 * swing.depth:.0f} % every {period} s")
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
        return f"stays as it is (within {_percent(abs(change.value) + wide)} in two minutes)"
    # A drift of a few percent is what every discharge does.
    word = "sinks" if change.value < 0 else "rises"
    if abs(change.value) + wide < DRIFTS:
        return f"stays about as it is ({word} by {_percent(abs(change.value))} in two minutes)"
    size = _percent(abs(change.value))
    return f"{word} by {size} (give or take {_percent(wide)}) in two minutes"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.01 else "less than 1 %"
