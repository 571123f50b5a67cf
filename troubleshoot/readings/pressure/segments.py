"""A log cut into what was going on: pumping, shut off, gas let in, venting, or nothing new.

Turning points are those from which ln p comes back by more than its noise; from each one the
place is then sought at which the curve really left its plateau. What made a rise follows from
three things. The gas that the pump had been holding back cannot raise a shut chamber faster than
base / (V/S): what rises much faster was let in. Gas let in while the pump runs levels off within a
few V/S, which a shut chamber does not. And a chamber without a valve cannot be shut.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from troubleshoot import units
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.rise import CHOKED_UP_TO
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.rows import Floats

Kind = Literal["pumping", "isolated", "gas", "venting", "unclear", "steady"]

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
HELD = 3.0
"""A rise that starts this many times faster than base / (V/S) is not of the gas that the pump held
back. It would be once as fast; the rest is left to V/S and to the gauge."""
ZERO = 0.5
"""Pa. A base may read too low by this."""
LEAST_TAU = 4.0
"""s. V/S at least, where the log does not show it (bench coaters: 4 to 20 s)."""
ROUGH = 8000.0
"""Pa. V/S is read from a fall that starts above this; below 10 mbar walls may already decide."""
SHORTEST = 60.0
UNCLEAR = 20.0
"""s. A shorter rise is not taken for the valve shut; one of at least the other is asked about."""
FIRST_SECONDS = 20.0
"""The rise at the start is read over this time."""
FILLS = (20.0, 60.0)
FILLS_TAUS = 6.0
"""s, and in V/S (a narrow hose is so much slower at low pressure). Gas let in comes to its level
with a time constant of less than this; a pocket so quick would have emptied while the pump ran."""
GAS_BELOW = 500.0
"""Pa. What levels off above this may be water, which does so at 600 Pa and more."""
RISEN = 3.0
"""The start of a rise is sought up to this many times its level."""
SUDDEN = 8.0
"""The vent opens where the pressure suddenly rises this many times faster."""
VENT_RATE, VENT_FACTOR = 50.0, 1.5
"""Pa/s. Up to the atmosphere faster than this (30 mbar a minute) is a vent, not a leak; and it is
more than noise."""
FEW = 5
"""With fewer readings a rise starts at the lowest one."""
SATURATED = 0.02
"""Readings within this of the highest, in ln p, are the waiting before the pump starts, or a gauge
at the end of its scale."""
WIDE = 0.8
"""Share of the widest range, in ln p, over which a run must be pumped to be told without a rise."""
AIR_SHOWN = 0.8
"""A gauge that shows this share of an atmosphere or more sees the whole of a rise."""
SAME = 0.003
REPEATED = 3
STAYED, SLOWED = 0.8, 1.7
"""A gauge is at its end if it stops dead: at least so many readings within so small a share, for so
long beside the time of the last quarter before, which itself took no more than so many times that
of the quarter before it. What levels off by itself takes three times as long."""


@dataclass(frozen=True)
class Segment:
    """Points `first` to `last` (inclusive) of a log.

    `kicks`: short jumps up while pumping. `top`: Pa, the end of the gauge's scale, where that is
    why the segment begins or ends.
    """

    kind: Kind
    first: int
    last: int
    kicks: int = 0
    top: float | None = None

    @property
    def points(self) -> slice:
        return slice(self.first, self.last + 1)

    def __len__(self) -> int:
        return self.last - self.first + 1


def find_segments(log: Log, *, valve: bool = True) -> tuple[Segment, ...]:
    """The segments of a log in order; stretches at the end of a gauge's scale belong to none.

    `valve`: the chamber has, or may have, a valve to its pump. "unclear" is a rise that could be
    that of a chamber shut off, but is too short to say so, or there is no valve.
    """
    out: list[Segment] = []
    cuts = [0, *np.searchsorted(log.seconds, log.breaks).tolist(), len(log.seconds)]
    for a, b in itertools.pairwise(cuts):
        if b - a >= 3:
            out.extend(_part(log, a, b, valve))
    return tuple(out)


def scatter(log_p: Floats) -> float:
    """Scatter of one reading in ln p, from second differences, which no slow change touches.

    Also from those of readings further apart, as long as there are many: noise may hang together.
    """
    if len(log_p) < 5:
        return 0.0
    apart = [k for k in (1, 2, 4, 8) if k == 1 or len(log_p) >= 40 * k]
    seconds = (log_p[2 * k :] - 2 * log_p[k:-k] + log_p[: -2 * k] for k in apart)
    return 1.4826 * max(float(np.median(np.abs(d))) for d in seconds) / math.sqrt(6)


def _smooth(log_p: Floats, readings: int = 5) -> Floats:
    """Running median (of an odd number), which leaves slopes and corners in their places."""
    if len(log_p) < 6 * readings:
        return log_p
    padded = np.pad(log_p, readings // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, readings)
    return np.asarray(np.median(windows, axis=1))


def _part(log: Log, a: int, b: int, valve: bool) -> list[Segment]:
    log_p = np.log(log.pascal[a:b])
    noise = NOISES * scatter(log_p) if not log.typed else 0.0
    turn = np.maximum(TURN, noise) + 1.5 * log.step[a:b] / log.pascal[a:b]
    # A median over more than a few seconds would hide a short stretch of pumping.
    pace = float(np.median(np.diff(log.seconds[a:b])))
    turns = _turns(_smooth(log_p, 5 if pace <= 2 else 3 if pace <= 5 else 1), turn)
    if len(turns) < 2:
        return [Segment("steady", a, b - 1)]
    turns, kicks = _without_kicks(log, a, turns)
    top = _gauge_end(log.seconds[a:b], log.pascal[a:b])
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
            rise = _Rise(log, a + begin, a + low, a + last, float(turn.min()), tau, top, valve)
            onset, risen = rise.read()
            if pieces and pieces[-1].kind == "pumping":
                pieces[-1] = replace(pieces[-1], last=max(pieces[-1].first, onset))
            elif onset - a - begin >= 3:
                pieces.append(Segment("steady", a + begin, onset))
            pieces.extend(risen)
            begin = last
    return [s for s in pieces if len(s) >= 2]


def _gauge_end(t: Floats, p: Floats) -> float | None:
    """The pressure at which the gauge ends, if it got there on the way up or down."""
    most = float(p.max())
    if most > AIR_SHOWN * ATMOSPHERE:
        return None
    there = np.concatenate([[False], p >= most * (1 - SAME), [False]])
    edges = np.flatnonzero(np.diff(there.astype(int)))
    for first, after in zip(edges[::2], edges[1::2], strict=True):
        if after - first < REPEATED:
            continue
        stayed = t[after - 1] - t[first]
        up = (t[first] - t[first::-1], p[first::-1])
        down = (t[after - 1 :] - t[after - 1], p[after - 1 :])
        for away, pascal in (up, down):
            quarter, half = (_first_below(away, pascal, most * x) for x in (0.75, 0.5))
            if STAYED * quarter <= stayed and quarter <= SLOWED * (half - quarter) < math.inf:
                return most
    return None


def _first_below(t: Floats, p: Floats, level: float) -> float:
    """When `p` first falls below a level, between two readings; never: infinite."""
    below = np.flatnonzero(p < level)
    if not len(below):
        return math.inf
    k = int(below[0])
    return float(np.interp(level, p[[k, k - 1]], t[[k, k - 1]]))


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


def _onset(seconds: Floats, pascal: Floats, begin: int, last: int) -> int:
    """Where a rise leaves its flat start: the best cut into a level and a rise from it.

    The rise is straight or bends over, as every rise does. Relative deviations; the corner may
    lie between two readings. Returns the last point of the level.
    """
    smooth = np.exp(_smooth(np.log(pascal[begin : last + 1])))
    # The level reaches back at most to where the pressure was a fifth higher.
    low = int(np.argmin(smooth))
    higher = np.flatnonzero(smooth[:low] > 1.2 * smooth[low])
    left = int(higher[-1]) + 1 if len(higher) else 0
    risen = np.flatnonzero(smooth[low:] > RISEN * float(np.median(smooth[left : low + 1])))
    right = min(len(smooth) - 1, low + int(risen[0]) + 3) if len(risen) else len(smooth) - 1
    if right - left + 1 < FEW:
        return begin + int(np.argmin(pascal[begin : last + 1]))
    t = seconds[begin + left : begin + right + 1]
    p = pascal[begin + left : begin + right + 1]
    rows = np.arange(len(t))

    def misfit(place: float) -> float:
        after = np.maximum(t - np.interp(place, rows, t), 0.0)
        shape = np.stack([np.ones_like(t), after, after**2], axis=1) / p[:, None]
        answer, *_ = np.linalg.lstsq(shape, np.ones_like(p), rcond=None)
        if answer[2] > 0:
            shape = shape[:, :2]
            answer, *_ = np.linalg.lstsq(shape, np.ones_like(p), rcond=None)
        off = 1 - shape @ answer
        return float(off @ off)

    stride = max(1.0, len(t) / 40)
    coarse = min(np.arange(0, len(t) - 2, stride), key=misfit)
    near = np.arange(max(coarse - stride, 0), min(coarse + stride, len(t) - 2), stride / 8)
    return begin + left + int(min(near, key=misfit, default=coarse))


@dataclass(frozen=True)
class _Rise:
    """A stretch in which the pressure falls to `low` and rises till `last`, and what is known.

    `turn`: the least rise, in ln p. `tau`: V/S in s, if it was seen. `top`: end of the gauge.
    """

    log: Log
    begin: int
    low: int
    last: int
    turn: float
    tau: float | None
    top: float | None
    valve: bool

    def read(self) -> tuple[int, list[Segment]]:
        """Where it starts, and what made it; one that ends in a vent is cut in two."""
        t, p = self.log.seconds, self.log.pascal
        end, top = self.last, None
        if self.top is not None:
            there = np.flatnonzero(p[self.low : self.last + 1] >= self.top * (1 - SAME))
            if len(there):
                end, top = self.low + int(there[0]), self.top
        cut = self._vent(end, min(0.9 * (top or ATMOSPHERE), CHOKED_UP_TO * ATMOSPHERE))
        vents = [Segment("venting", cut, end, top=top)] if cut < end else []
        onset = _onset(t, p, self.begin, cut)
        if cut - onset < (3 if vents else 2):
            return (cut if vents else onset), vents
        before = float(np.median(p[max(self.begin, onset - 4) : onset + 1]))
        after = float(np.median(p[max(onset + 1, cut - 2) : cut + 1]))
        if vents and after < before * math.exp(self.turn):
            return cut, vents
        kind = self._kind(onset, cut, before)
        if top is None or vents:
            return onset, [Segment(kind, onset, cut), *vents]
        return onset, [Segment(kind, onset, cut - 1, top=top)]

    def _vent(self, end: int, limit: float) -> int:
        """The last point before the air rushed in; `end` if it did not."""
        t, p, low = self.log.seconds, self.log.pascal, self.low
        if p[end] < limit:
            return end
        below = np.flatnonzero(p[low : end + 1] < limit)
        cut = low + int(below[-1]) if len(below) else low
        if cut < end:
            rates = np.diff(p[low : cut + 2]) / np.diff(t[low : cut + 2])
            usual = max(float(np.median(rates)), 1e-9)
            while cut > low and rates[cut - low - 1] > SUDDEN * usual:
                cut -= 1
        fast = p[end] - p[cut] >= VENT_RATE * (t[end] - t[cut])
        return cut if fast and p[end] > VENT_FACTOR * p[cut] else end

    def _kind(self, onset: int, cut: int, before: float) -> Kind:
        t, p = self.log.seconds, self.log.pascal
        lasted = t[cut] - t[onset]
        first = min(onset + max(int(np.searchsorted(t[onset:], t[onset] + FIRST_SECONDS)), 1), cut)
        rate = (p[first] - before) / (t[first] - t[onset])
        if rate * (self.tau or LEAST_TAU) > HELD * (before + ZERO):
            return "gas"
        level = float(np.median(p[cut - min(cut - onset, 4) : cut + 1]))
        # A needle valve is opened by hand, in steps: the last of them tells.
        half = onset + int(np.argmax(p[onset:cut] >= (before + level) / 2))
        filling = _filling_time(t[half : cut + 1] - t[half], p[half : cut + 1])
        fills = FILLS[1] if self.tau is None else float(np.clip(FILLS_TAUS * self.tau, *FILLS))
        if lasted < SHORTEST and self.tau is None:
            # Over a short time everything bends: only a level that was reached tells.
            fills = min(fills, lasted / 3)
        if lasted < UNCLEAR or (filling < fills and level < GAS_BELOW):
            return "gas"
        short = lasted < SHORTEST or (lasted < 2 * SHORTEST and filling < 2 * fills)
        return "unclear" if short or not self.valve else "isolated"


def _filling_time(t: Floats, p: Floats) -> float:
    """The time constant in s of the best a + b (1 - exp(-t/tau)), b >= 0, in relative deviations.

    0 if nothing rises.
    """

    def misfit(tau: float) -> float:
        shape = np.stack([np.ones_like(t), -np.expm1(-t / tau)], axis=1) / p[:, None]
        answer, *_ = np.linalg.lstsq(shape, np.ones_like(p), rcond=None)
        off = 1 - shape @ answer
        return float(off @ off) if answer[1] > 0 else math.inf

    best, tau = min((misfit(tau), tau) for tau in np.geomspace(1, 2000, 40).tolist())
    return tau if math.isfinite(best) else 0.0


def main_run(segments: Sequence[Segment], log: Log) -> tuple[Segment | None, Segment | None]:
    """The pump-down and the rise to tell of, both of one run (which ends with a vent).

    That is the last run with a rise, else the last one that is pumped over nearly as wide a range
    as any (`WIDE`). The rise is the last of its run: what the machine does now; the
    pump-down the widest before it, or `None`.
    """
    all_runs = runs(segments, log)
    for run in reversed(all_runs):
        shut = [s for s in run if s.kind == "isolated" and len(s) >= 3]
        if shut:
            return _widest([s for s in run if s.last <= shut[-1].first], log), shut[-1]
    falls = [s for s in (_widest(run, log) for run in all_runs) if s is not None]
    most = max((_range(s, log) for s in falls), default=0.0)
    wide = [s for s in falls if _range(s, log) >= WIDE * most]
    return (wide[-1] if wide else None), None


def runs(segments: Sequence[Segment], log: Log) -> list[list[Segment]]:
    """Segments from one vent to the next: a new run starts where pumping starts from the air, or
    from the end of the gauge, and where the log starts anew."""
    out: list[list[Segment]] = [[]]
    for i, segment in enumerate(segments):
        was = segments[i - 1] if i else segment
        anew = any(log.seconds[was.first] < b <= log.seconds[segment.first] for b in log.breaks)
        from_air = segment.kind == "pumping" and (
            log.pascal[segment.first] >= CHOKED_UP_TO * ATMOSPHERE or segment.top is not None
        )
        if i and (anew or was.kind == "venting" or from_air):
            out.append([])
        out[-1].append(segment)
    return out


def _range(segment: Segment, log: Log) -> float:
    return math.log(log.pascal[segment.first] / log.pascal[segment.points].min())


def _widest(run: Sequence[Segment], log: Log) -> Segment | None:
    found = [s for s in run if s.kind == "pumping" and len(s) >= 3]
    return max(found, key=lambda s: _range(s, log), default=None)


def within_scale(log: Log, segment: Segment) -> Segment:
    """A segment without the readings at the end of the gauge's scale, where it began or ended."""
    t, p = log.seconds[segment.points], log.pascal[segment.points]
    top = _gauge_end(t, p)
    if top is None:
        return segment
    there = np.flatnonzero(p >= top * (1 - SAME))
    if segment.kind == "pumping":
        return replace(segment, first=segment.first + int(there[-1]) + 1, top=top)
    return replace(segment, last=segment.first + int(there[0]) - 1, top=top)


def remarks(
    segments: Sequence[Segment], log: Log, falling: Segment | None, rising: Segment | None
) -> tuple[str, ...]:
    """What must be said beside the curves of `main_run`, in whole sentences."""
    said = []
    main = rising or falling
    parts = [r for r in runs(segments, log) if any(s.kind in ("pumping", "isolated") for s in r)]
    if main is not None and len(parts) > 1:
        run = next(r for r in parts if main in r)
        why = "the last with the pump shut off" if rising else "the last pumped all the way down"
        said.append(
            f"Of {len(parts)} runs in this log that from {log.seconds[run[0].first]:.0f} s to "
            f"{log.seconds[run[-1].last]:.0f} s is told here, {why}."
        )
        if rising and falling is None:
            said.append("No pump-down was logged just before this rise.")
    ends = [(s.top, words) for s, words in ((falling, "fall"), (rising, "rise")) if s and s.top]
    if ends:
        top = units.format_number(units.from_si(ends[0][0], log.unit, "pressure"))
        words = " and ".join(words for _, words in ends)
        said.append(f"The gauge ends at {top} {log.unit}: the {words} could be read only below it.")
    if rising is None:
        said += _not_told(segments, log)
    return tuple(said)


def _not_told(segments: Sequence[Segment], log: Log) -> list[str]:
    """The last rise that was not taken for the pump shut off but might be, or is no argon."""
    for segment in reversed(segments):
        begin, end = (log.seconds[k] for k in (segment.first, segment.last))
        since = f"From {begin:.0f} s on the pressure rises"
        if segment.kind == "unclear":
            return [
                f"{since} for {end - begin:.0f} s; if the chamber was shut off from its pump then, "
                "cut that part out and read it with --valve shut."
            ]
        if segment.kind == "gas" and log.pascal[segment.last] > GAS_BELOW:
            return [
                f"{since} far too fast for gas that the pump had been holding back: it was let in, "
                "or came through the pump after that was stopped."
            ]
    return []


def clean(log: Log, segment: Segment) -> NDArray[np.intp]:
    """The points of a segment without its kicks."""
    places = np.arange(segment.first, segment.last + 1)
    if not segment.kicks:
        return places
    p = log.pascal[places]
    lowest = np.minimum.accumulate(p)
    return places[p <= lowest * math.exp(max(TURN, 3 * scatter(np.log(p))))]
