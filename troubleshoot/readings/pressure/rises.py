"""What made a rise: the pump shut off, gas let in, or a vent; and where it starts."""

import math
from dataclasses import dataclass

import numpy as np

from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.rise import CHOKED_UP_TO
from troubleshoot.readings.pressure.scale import SAME
from troubleshoot.readings.pressure.segment import Kind, Segment, smooth
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.rows import Floats

HELD = 3.0
"""A rise that starts this many times faster than base / (V/S) is not of the gas that the pump held
back. It would be once as fast; the rest is left to V/S and to the gauge."""
ZERO = 0.5
"""Pa. A base may read too low by this."""
LEAST_TAU = 4.0
"""s. V/S at least, where the log does not show it (bench coaters: 4 to 20 s)."""
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


@dataclass(frozen=True)
class Rise:
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
        zero = min(ZERO, 0.1 * before) if before < ZERO / 10 else ZERO
        if rate * (self.tau or LEAST_TAU) > HELD * (before + zero):
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


def _onset(seconds: Floats, pascal: Floats, begin: int, last: int) -> int:
    """Where a rise leaves its flat start: the best cut into a level and a rise from it.

    The rise is straight or bends over, as every rise does. Relative deviations; the corner may
    lie between two readings. Returns the last point of the level.
    """
    level = np.exp(smooth(np.log(pascal[begin : last + 1])))
    # The level reaches back at most to where the pressure was a fifth higher.
    low = int(np.argmin(level))
    higher = np.flatnonzero(level[:low] > 1.2 * level[low])
    left = int(higher[-1]) + 1 if len(higher) else 0
    risen = np.flatnonzero(level[low:] > RISEN * float(np.median(level[left : low + 1])))
    right = min(len(level) - 1, low + int(risen[0]) + 3) if len(risen) else len(level) - 1
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
