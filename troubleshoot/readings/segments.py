"""A log cut into what was going on: pumping, shut off, gas let in, venting, or nothing new.

Turning points are those from which ln p comes back by more than its noise; from each one the
place is then sought at which the curve really left its plateau.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.rise import CHOKED_UP_TO
from troubleshoot.readings.log_file import Floats, Log

Kind = Literal["pumping", "isolated", "gas", "venting", "steady"]

TURN = 0.12
"""Least change of ln p that counts as a turn: 13 %. Judgement, as are the next ones."""
NOISES = 6.0
"""A turn must also exceed this many times the scatter of one reading."""
BURST_RATIO = 4.0
BURST_SECONDS = 60.0
"""A kick of less than this factor that is over within this time belongs to the pumping."""
GAS_SECONDS = 60.0
GAS_BELOW = 200.0
"""Pa. Argon let in reaches most of its level within a minute, below 2 mbar, and stays there."""
SUDDEN = 8.0
"""The vent opens where the pressure suddenly rises this many times faster."""
VENT_RATE = 50.0
"""Pa/s. Up to the atmosphere faster than this (30 mbar a minute) is a vent, not a leak."""
FEW = 12
"""With fewer readings a rise starts at the lowest one."""
SATURATED = 0.02
"""Readings within this of the highest, in ln p, are the waiting before the pump starts, or a gauge
at the end of its scale."""


@dataclass(frozen=True)
class Segment:
    """Points `first` to `last` (inclusive) of a log. `kicks`: short jumps up while pumping."""

    kind: Kind
    first: int
    last: int
    kicks: int = 0

    @property
    def points(self) -> slice:
        return slice(self.first, self.last + 1)

    def __len__(self) -> int:
        return self.last - self.first + 1


def find_segments(log: Log) -> tuple[Segment, ...]:
    """The segments of a log in order; stretches at the end of a gauge's scale belong to none."""
    out: list[Segment] = []
    cuts = [0, *np.searchsorted(log.seconds, log.breaks).tolist(), len(log.seconds)]
    for a, b in itertools.pairwise(cuts):
        if b - a >= 3:
            out.extend(_part(log, a, b))
    return tuple(out)


def scatter(log_p: Floats) -> float:
    """Scatter of one reading in ln p, from second differences, which no slow change touches."""
    if len(log_p) < 5:
        return 0.0
    second = np.diff(log_p, 2)
    return 1.4826 * float(np.median(np.abs(second))) / math.sqrt(6)


def _smooth(log_p: Floats) -> Floats:
    """Running median of five readings, which leaves slopes and corners in their places."""
    if len(log_p) < 30:
        return log_p
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(log_p, 2, mode="edge"), 5)
    return np.asarray(np.median(windows, axis=1))


def _part(log: Log, a: int, b: int) -> list[Segment]:
    log_p = np.log(log.pascal[a:b])
    noise = NOISES * scatter(log_p) if not log.typed else 0.0
    turn = np.maximum(TURN, noise) + 1.5 * log.step[a:b] / log.pascal[a:b]
    turns = _turns(_smooth(log_p), turn)
    if len(turns) < 2:
        return [Segment("steady", a, b - 1)]
    turns, kicks = _without_kicks(log, a, turns)
    pieces: list[Segment] = []
    begin = 0
    for i, (low, high) in enumerate(itertools.pairwise(turns)):
        if log_p[high] < log_p[low]:
            start = _left_plateau(log_p, max(begin, low), high)
            inside = sum(start <= k <= high for k in kicks)
            last = high if i + 2 < len(turns) else len(log_p) - 1
            pieces.append(Segment("pumping", a + start, a + last, inside))
            begin = high
        else:
            last = high if i + 2 < len(turns) else len(log_p) - 1
            # A plateau on top belongs to the rise, up to where the fall leaves it.
            if i + 2 < len(turns):
                last = max(high, _left_plateau(log_p, high, turns[i + 2]) - 1)
            onset, risen = _rising(log, a + begin, a + last, float(turn.min()))
            if pieces and pieces[-1].kind == "pumping":
                was = pieces[-1]
                pieces[-1] = Segment("pumping", was.first, max(was.first, onset), was.kicks)
            elif onset - a - begin >= 3:
                pieces.append(Segment("steady", a + begin, onset))
            pieces.extend(risen)
            begin = last
    return [s for s in pieces if len(s) >= 2]


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
    p = log.pascal
    if not p[low] < p[high] < BURST_RATIO * p[low]:
        return False
    level = 1.1 * p[low]
    after = np.flatnonzero(p[high : back + 1] <= level)
    before = np.flatnonzero(p[low : high + 1] <= level)
    if not len(after):
        return False
    return bool(log.seconds[high + after[0]] - log.seconds[low + before[-1]] <= BURST_SECONDS)


def _left_plateau(log_p: Floats, top: int, bottom: int) -> int:
    """The last point that is still at the level of the top."""
    stretch = log_p[top : bottom + 1]
    level = max(SATURATED, 3 * scatter(stretch))
    return top + int(np.flatnonzero(stretch >= stretch[0] - level)[-1])


def _onset(seconds: Floats, pascal: Floats, begin: int, last: int) -> int:
    """Where a rise leaves its flat start: the best cut into a level and a parabola from it.

    Both parts in relative deviations. Returns the last point of the level.
    """
    # The level reaches back at most to where the pressure was a third higher.
    low = begin + int(np.argmin(pascal[begin : last + 1]))
    higher = np.flatnonzero(pascal[begin : low + 1] > 1.3 * pascal[low])
    left = begin + (int(higher[-1]) + 1 if len(higher) else 0)
    top = np.flatnonzero(pascal[left : last + 1] > 3 * float(np.median(pascal[left : low + 1])))
    right = min(last, left + int(top[0]) + 3) if len(top) else last
    places = np.arange(left, right + 1)
    if len(places) < FEW:
        return low
    t, p = seconds[places], pascal[places]

    def misfit(k: int) -> float:
        after = np.maximum(t - t[k], 0.0)
        shape = np.stack([np.ones_like(t), after, after**2], axis=1) / p[:, None]
        answer, *_ = np.linalg.lstsq(shape, np.ones_like(p), rcond=None)
        off = 1 - shape @ answer
        return float(off @ off)

    stride = max(1, len(places) // 40)
    coarse = min(range(0, len(places) - 2, stride), key=misfit)
    near = range(max(coarse - stride, 0), min(coarse + stride, len(places) - 2), stride // 20 + 1)
    return int(places[min(near, key=misfit)])


def _rising(log: Log, begin: int, last: int, turn: float) -> tuple[int, list[Segment]]:
    """Where a rise starts, and what made it; one that ends in a vent is cut in two."""
    t, p = log.seconds, log.pascal
    limit = CHOKED_UP_TO * ATMOSPHERE
    cut, vents = last, []
    if p[last] >= limit:
        cut = _vent(t, p, begin, last, limit)
        if (p[last] - p[cut]) / max(t[last] - t[cut], 1e-9) >= VENT_RATE:
            vents = [Segment("venting", cut, last)]
    if vents and p[cut] < p[begin : cut + 1].min() * math.exp(turn):
        return cut, vents
    onset = _onset(t, p, begin, cut)
    if cut - onset < 2:
        return onset, vents
    return onset, [Segment(_gas_or_isolated(t, p, onset, cut), onset, cut), *vents]


def _vent(t: Floats, p: Floats, begin: int, last: int, limit: float) -> int:
    """The last point before the air rushed in."""
    below = np.flatnonzero(p[begin : last + 1] < limit)
    if not len(below):
        return begin
    cut = begin + int(below[-1])
    if cut == last:
        return cut
    rates = np.diff(p[begin : cut + 2]) / np.diff(t[begin : cut + 2])
    usual = max(float(np.quantile(rates, 0.8)), 1e-9)
    while cut > begin and rates[cut - begin - 1] > SUDDEN * usual:
        cut -= 1
    return cut


def _gas_or_isolated(t: Floats, p: Floats, onset: int, last: int) -> Kind:
    gain = p[last] - p[onset]
    reached = onset + int(np.argmax(p[onset : last + 1] >= p[onset] + 0.8 * gain))
    quick = t[reached] - t[onset] <= min(GAS_SECONDS, 0.15 * (t[last] - t[onset]))
    level = p[reached + 1 : last + 1]
    flat = len(level) < 4 or _level(t[reached + 1 : last + 1], level)
    return "gas" if quick and flat and p[last] < GAS_BELOW else "isolated"


def _level(t: Floats, p: Floats) -> bool:
    """No more than a tenth of change from the first half to the second."""
    middle = len(p) // 2
    return bool(abs(np.median(p[middle:]) / np.median(p[:middle]) - 1) < 0.1)


def main_pumping(segments: Sequence[Segment], log: Log) -> Segment | None:
    """The pump-down over the widest range of pressure."""
    found = [s for s in segments if s.kind == "pumping" and len(s) >= 3]
    return max(
        found,
        key=lambda s: math.log(log.pascal[s.first] / log.pascal[s.points].min()),
        default=None,
    )


def main_rise(segments: Sequence[Segment]) -> Segment | None:
    """The last stretch shut off from the pump: what the machine does now."""
    found = [s for s in segments if s.kind == "isolated" and len(s) >= 3]
    return found[-1] if found else None


def clean(log: Log, segment: Segment) -> NDArray[np.intp]:
    """The points of a segment without its kicks."""
    places = np.arange(segment.first, segment.last + 1)
    if not segment.kicks:
        return places
    p = log.pascal[places]
    lowest = np.minimum.accumulate(p)
    return places[p <= lowest * math.exp(max(TURN, 3 * scatter(np.log(p))))]
