"""Where the glow is on, and what happens meanwhile: jumps, steps, times at which it was out.

Numbers that name no source are judgement.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from troubleshoot.errors import UserError
from troubleshoot.readings.current.trace import (
    FEWEST,
    JUMP,
    NOISES,
    WINDOW,
    Event,
    Swing,
    Trace,
    display,
)
from troubleshoot.sources.log_file import Table
from troubleshoot.sources.points import display_step
from troubleshoot.sources.rows import Floats

MOST_CURRENT = 100.0
"""A. A carbon source takes tens of amperes, a glow a tenth of one."""
OUT = 0.1
"""Below this share of the usual current the glow is out."""
OUT_SECONDS = 1.0
"""Shorter than this it is a jump, not going out."""
SHORTEST = 10.0
"""A log of a discharge needs so many seconds."""
STEP = 0.08
"""A step changes the level by this share at once."""
MOST_POINTS = 4000


def running(table: Table) -> tuple[int, int]:
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


def run_of(
    seconds: Floats, amps: Floats, volts: Floats | None, swing: Swing | None = None
) -> Trace:
    """The running part with its jumps and the times at which the glow was out, in s, A and V.

    With a `swing`, jumps are sought in what it leaves of the current.
    """
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


def with_steps(run: Trace) -> Trace:
    """The same with its steps, and without the jumps that are only the edges of steps."""
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
    limit = max(STEP, NOISES * scatter * math.sqrt(2 / half), 1.6 * display(y) / level)
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
