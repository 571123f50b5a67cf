"""Which pump-down and which rise of a log are told, and what must be said beside them."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from troubleshoot import units
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.rise import CHOKED_UP_TO
from troubleshoot.readings.pressure.rises import GAS_BELOW
from troubleshoot.readings.pressure.scale import SAME, top_of
from troubleshoot.readings.pressure.segment import Segment
from troubleshoot.sources.log_file import Log

LONG_GAP = 900.0
"""s without a reading, after which a log tells of another run: judgement."""
HOPS, FEW_HOPS = 0.05, 5
"""Share, and number, of readings that jump by themselves for which a logger may be blamed."""
WIDE, LASTS = 0.8, 0.5
"""Share of the widest range, in ln p, over which a run must be pumped to be told without a rise; or
from the air, and so long beside the longest: one that does not get so far is what is looked for."""


def main_run(segments: Sequence[Segment], log: Log) -> tuple[Segment | None, Segment | None]:
    """The pump-down and the rise to tell of, both of one run (which ends with a vent).

    That is the last run with a rise, else the last one that is pumped over nearly as wide a range
    as any (`WIDE`), or nearly as long from the air (`LASTS`). The rise is the last of its run: what
    the machine does now; the pump-down the widest before it, or `None`.
    """
    all_runs = runs(segments, log)
    for run in reversed(all_runs):
        shut = [s for s in run if s.kind == "isolated" and len(s) >= 3]
        if shut:
            return _widest([s for s in run if s.last <= shut[-1].first], log), shut[-1]
    falls = [s for s in (_widest(run, log) for run in all_runs) if s is not None]
    most = max((_range(s, log) for s in falls), default=0.0)
    longest = max((_lasts(s, log) for s in falls), default=0.0)
    wide = [
        s
        for s in falls
        if _range(s, log) >= WIDE * most
        or (_from_air(s, log) and _lasts(s, log) >= LASTS * longest)
    ]
    return (wide[-1] if wide else None), None


def runs(segments: Sequence[Segment], log: Log) -> list[list[Segment]]:
    """Segments from one vent to the next: a new run starts where pumping starts from the air, or
    from the end of the gauge, and where the log starts anew."""
    out: list[list[Segment]] = [[]]
    for i, segment in enumerate(segments):
        was = segments[i - 1] if i else segment
        anew = any(log.seconds[was.first] < b <= log.seconds[segment.first] for b in log.breaks)
        from_air = segment.kind == "pumping" and _from_air(segment, log)
        anew |= log.seconds[segment.first] - log.seconds[was.last] > LONG_GAP
        if i and (anew or was.kind == "venting" or from_air):
            out.append([])
        out[-1].append(segment)
    return out


def _from_air(segment: Segment, log: Log) -> bool:
    """Whether it begins at the atmosphere, or above the end of the gauge."""
    return bool(log.pascal[segment.first] >= CHOKED_UP_TO * ATMOSPHERE or segment.top is not None)


def _lasts(segment: Segment, log: Log) -> float:
    return float(log.seconds[segment.last] - log.seconds[segment.first])


def _range(segment: Segment, log: Log) -> float:
    return math.log(log.pascal[segment.first] / log.pascal[segment.points].min())


def _widest(run: Sequence[Segment], log: Log) -> Segment | None:
    found = [s for s in run if s.kind == "pumping" and len(s) >= 3]
    return max(found, key=lambda s: _range(s, log), default=None)


def within_scale(log: Log, segment: Segment) -> Segment:
    """A segment without the readings at the end of the gauge's scale, where it began or ended."""
    p = log.pascal[segment.points]
    top = top_of(log, segment.points)
    if top is None:
        return segment
    there = np.flatnonzero(p >= top * (1 - SAME))
    if segment.kind == "pumping":
        return replace(segment, first=segment.first + int(there[-1]) + 1, top=top)
    return replace(segment, last=segment.first + int(there[0]) - 1, top=top)


def hops(log: Log) -> bool:
    """Whether so many readings jump by themselves that the gauge is in doubt."""
    return log.glitches > max(FEW_HOPS, HOPS * log.rows)


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
            f"{log.seconds[run[-1].last]:.0f} s is told here, {why}{_before(parts, run, log)}."
        )
        if rising and falling is None:
            said.append("No pump-down was logged just before this rise.")
    if hops(log):
        said.append(
            f"{log.glitches} of {log.rows} readings hop away from their neighbours and back, which "
            "no gas does: look at the plug, the cable and the head of the gauge first."
        )
    ends = [(s.top, words) for s, words in ((falling, "fall"), (rising, "rise")) if s and s.top]
    if ends:
        top = units.format_number(units.from_si(ends[0][0], log.unit, "pressure"))
        words = " and ".join(words for _, words in ends)
        said.append(f"The gauge ends at {top} {log.unit}: the {words} could be read only below it.")
    if rising is None:
        said += _not_told(segments, log)
    return tuple(said)


def _before(parts: list[list[Segment]], run: list[Segment], log: Log) -> str:
    """How far the run before this one got."""
    place = parts.index(run)
    fall = _widest(parts[place - 1], log) if place else None
    if fall is None:
        return ""
    least = units.from_si(float(log.pascal[fall.points].min()), log.unit, "pressure")
    return f"; the one before it got to {units.format_number(float(f'{least:.3g}'))} {log.unit}"


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
