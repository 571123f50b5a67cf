"""A log cut into what was going on: pumping, shut off, gas let in, venting, or nothing new.

Turning points are those from which ln p comes back by more than its noise; from each one the
place is then sought at which the curve really left its plateau. What made a rise follows from
three things. The gas that the pump had been holding back cannot raise a shut chamber faster than
base / (V/S): what rises much faster was let in. Gas let in while the pump runs levels off within a
few V/S, which a shut chamber does not. And a chamber without a valve cannot be shut.
"""

import itertools
import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.pressure.rises import Rise
from troubleshoot.readings.pressure.scale import top_of
from troubleshoot.readings.pressure.segment import Segment, gaps, scatter, smooth
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.rows import Floats

TURN = 0.12
"""Least change of ln p that counts as a turn: 13 %. Judgement, as are the next ones."""
NOISES = 6.0
"""A turn must also exceed this many times the scatter of one reading."""
BURST_RATIO = 12.0
BURST_SECONDS = 120.0
"""A kick of less than this factor that is over within this time may belong to the pumping: V/S is
up to 20 s, and a burst of ten times the pressure is gone after five of these."""
BRIEF = 15.0
"""s. No purge is over so soon."""
PEAKED = 0.35
"""Share of its time that a burst spends above half its height: a third of what is left after a
sudden start and an exponential fall; gas let in for a while stays above it for longer."""
ROUGH = 8000.0
"""Pa. V/S is read from a fall that starts above this; below 10 mbar walls may already decide."""
SATURATED = 0.02
"""Readings within this of the highest, in ln p, are the waiting before the pump starts, or a gauge
at the end of its scale."""


def find_segments(log: Log, *, valve: bool = True) -> tuple[Segment, ...]:
    """The segments of a log in order; stretches at the end of a gauge's scale belong to none.

    `valve`: the chamber has, or may have, a valve to its pump. "unclear" is a rise that could be
    that of a chamber shut off, but is too short to say so, or there is no valve.
    """
    out: list[Segment] = []
    breaks = np.searchsorted(log.seconds, log.breaks).tolist()
    cuts = sorted({0, *breaks, *gaps(log), len(log.seconds)})
    for a, b in itertools.pairwise(cuts):
        if b - a >= 3:
            out.extend(_part(log, a, b, valve))
    return tuple(out)


def _part(log: Log, a: int, b: int, valve: bool) -> list[Segment]:
    log_p = np.log(log.pascal[a:b])
    noise = NOISES * scatter(log_p) if not log.typed else 0.0
    turn = np.maximum(TURN, noise) + 1.5 * log.step[a:b] / log.pascal[a:b]
    # A median over more than a few seconds would hide a short stretch of pumping.
    pace = float(np.median(np.diff(log.seconds[a:b])))
    turns = _turns(smooth(log_p, 5 if pace <= 2 else 3 if pace <= 5 else 1), turn)
    if len(turns) < 2:
        return [Segment("steady", a, b - 1)]
    turns, kicks = _without_kicks(log, a, turns)
    top = top_of(log, slice(a, b))
    pieces: list[Segment] = []
    begin, tau = 0, None
    for i, (low, high) in enumerate(itertools.pairwise(turns)):
        if log_p[high] < log_p[low]:
            start = _left_plateau(log_p, max(begin, low), high)
            inside = sum(start <= k <= high for k in kicks)
            last = high if i + 2 < len(turns) else len(log_p) - 1
            clipped = top if top and log.pascal[a + start] >= top * (1 - SATURATED) else None
            start += clipped is not None
            pieces.append(Segment("pumping", a + start, a + last, inside, clipped))
            tau = _time_constant(log, pieces[-1]) or tau
            begin = high
        else:
            last = high if i + 2 < len(turns) else len(log_p) - 1
            # A plateau on top belongs to the rise, up to where the fall leaves it.
            if i + 2 < len(turns):
                last = max(high, _left_plateau(log_p, high, turns[i + 2]) - 1)
            rise = Rise(
                log, a + begin, a + max(begin, low), a + last, float(turn.min()), tau, top, valve
            )
            onset, risen = rise.read()
            if pieces and pieces[-1].kind == "pumping":
                pieces[-1] = replace(pieces[-1], last=max(pieces[-1].first, onset))
            elif onset - a - begin >= 3:
                pieces.append(Segment("steady", a + begin, onset))
            pieces.extend(risen)
            begin = last
    return [s for s in pieces if len(s) >= 2]


def _time_constant(log: Log, pumping: Segment) -> float | None:
    """V/S in s from a fall that starts high enough to show it: the quickest by a factor e or more
    from its start, since gas from the walls and the hose only make it slower further down."""
    t, p = log.seconds[pumping.points], log.pascal[pumping.points]
    folds = np.log(p[0] / p)
    if p[0] < ROUGH or folds.max() < 1:
        return None
    return float(((t - t[0])[folds >= 1] / folds[folds >= 1]).min())


def _turns(log_p: Floats, turn: Floats) -> list[int]:
    """Places of the extremes, alternately low and high, between which ln p moves by `turn`."""
    turns: list[int] = []
    low = high = 0
    falling: bool | None = None
    for i, now in enumerate(log_p):
        if falling is not False and now <= log_p[low]:
            low = i
        if falling is not True and now > log_p[high]:
            high = i
        if falling is not True and log_p[high] - now > turn[i]:
            turns.append(high)
            falling, low = True, i
        elif falling is not False and now - log_p[low] > turn[low]:
            turns.append(low)
            falling, high = False, i
    if falling is None:
        return []
    return [*turns, low if falling else high]


def _without_kicks(log: Log, a: int, turns: list[int]) -> tuple[list[int], list[int]]:
    """Take out short jumps up that fall back: they are bursts from a specimen, or a stray hand."""
    kept, kicks = list(turns), []
    i = 1
    while i + 2 < len(kept):
        low, high, back = (a + k for k in kept[i : i + 3])
        if _is_kick(log, low, high, back):
            kicks.append(kept[i + 1])
            del kept[i : i + 2]
            i = max(i - 2, 1)
        else:
            i += 1
    return kept, kicks


def _is_kick(log: Log, low: int, high: int, back: int) -> bool:
    """A jump that falls back by itself; gas let in for a while stays up instead."""
    t, p = log.seconds, log.pascal
    if not p[low] < p[high] < BURST_RATIO * p[low]:
        return False
    level = 1.1 * p[low]
    after = np.flatnonzero(p[high : back + 1] <= level)
    before = np.flatnonzero(p[low : high + 1] <= level)
    if not len(after):
        return False
    first, last = low + int(before[-1]), high + int(after[0])
    lasted = t[last] - t[first]
    above = np.flatnonzero(p[first : last + 1] > (p[low] + p[high]) / 2)
    # Each reading stands for the time half way to its neighbours.
    width = np.gradient(t[first : last + 1])[above].sum()
    return bool(lasted <= BRIEF or (lasted <= BURST_SECONDS and width <= PEAKED * lasted))


def _left_plateau(log_p: Floats, top: int, bottom: int) -> int:
    """The last point that is still at the level of the top."""
    stretch = log_p[top : bottom + 1]
    level = max(SATURATED, 3 * scatter(stretch))
    return top + int(np.flatnonzero(stretch >= stretch[0] - level)[-1])


def clean(log: Log, segment: Segment) -> NDArray[np.intp]:
    """The points of a segment without its kicks."""
    places = np.arange(segment.first, segment.last + 1)
    if not segment.kicks:
        return places
    p = log.pascal[places]
    lowest = np.minimum.accumulate(p)
    return places[p <= lowest * math.exp(max(TURN, 3 * scatter(np.log(p))))]
