"""A pump-down beside that of a good day: its curve, and where today's leaves it."""

import numpy as np

from troubleshoot import units
from troubleshoot.coater.good_day import Curve
from troubleshoot.coater.machine import Machine
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.readings.pressure.curve_models import settles
from troubleshoot.readings.pressure.parts import Part
from troubleshoot.sources.rows import Floats

KEPT_POINTS = 20
SLOWER = 1.5
"""From this factor in time, or in pressure at the end, a fall is told to differ from that of a good
day: judgement; loads, room and a warm pump make a third either way."""
NO_MATTER = 5.0
"""s. Within these two falls are alike, whatever their ratio."""


def kept_curve(pump: Part) -> Curve:
    """The fall of a good day in a few points, close together where it is steep."""
    end = float(pump.data.seconds[-1])
    times = end * np.linspace(0, 1, KEPT_POINTS) ** 2
    return tuple((float(t), float(p)) for t, p in zip(times, _at(pump, times), strict=True))


def _at(pump: Part, times: Floats) -> Floats:
    """The readings, smoothed by nothing but a line between them in ln p."""
    return np.asarray(np.exp(np.interp(times, pump.data.seconds, np.log(pump.data.pascal))))


def good_fall(pump: Part | None, machine: Machine | None) -> tuple[Floats, Floats] | None:
    """The fall of this coater on a good day, as long as this one, times from its first reading.

    As it was kept, begun where this one begins; else worked out from volume, pump and usual base.
    """
    if pump is None or machine is None:
        return None
    end = float(pump.data.seconds[-1])
    times = np.asarray(end * np.linspace(0, 1, 240) ** 2)
    kept = machine.good_day_curve
    if kept:
        t, p = (np.array(column) for column in zip(*kept, strict=True))
        falling = np.minimum.accumulate(p)
        start = float(pump.data.pascal[0])
        # Where the good day passed the pressure at which this log begins.
        ahead = float(np.interp(-np.log(start), -np.log(falling), t))
        inside = times + ahead <= t[-1]
        return times[inside], np.exp(np.interp(times[inside] + ahead, t, np.log(p)))
    numbers = machine.numbers
    volume, speed = numbers.get("volume"), numbers.get("pump_speed")
    base = numbers.get("usual_base")
    if not (volume and speed and base):
        return None
    start = min(float(pump.data.pascal[0]), ATMOSPHERE)
    return times, settles(times, base, max(start - base, 0.0), volume / speed)


def along_good_day(pump: Part, machine: Machine, unit: str) -> str | None:
    """How this fall goes beside that of a good day, in words; None where none was kept."""
    if not machine.good_day_curve:
        return None
    good = good_fall(pump, machine)
    if good is None or len(good[0]) < 3:
        return None
    (t_good, p_good), t, p = good, pump.data.seconds, np.minimum.accumulate(pump.data.pascal)
    # Near where it levels off a little more pressure takes much more time.
    lowest = max(float(p[-1]), float(p_good.min())) * SLOWER
    if lowest >= p[0]:
        return None
    marks = np.geomspace(float(p[0]), lowest, 40)
    # Of equal starts nothing can be told: a second is added to both.
    ours = 1 + np.interp(-np.log(marks), -np.log(p), t)
    theirs = 1 + np.interp(-np.log(marks), -np.log(np.minimum.accumulate(p_good)), t_good)
    apart = np.abs(np.log(ours / theirs)) > np.log(SLOWER)
    apart &= np.abs(ours - theirs) > NO_MATTER
    if apart.any():
        worst = int(np.argmax(np.where(apart, np.abs(ours - theirs), 0.0)))
        word = "slower" if ours[worst] > theirs[worst] else "faster"
        alike = np.flatnonzero(~apart[:worst])
        first = int(alike[-1]) + 1 if len(alike) else 0
        until = units.format_in(float(marks[first]), unit, "pressure")
        where = f"as on a good day down to {until}, then {word}" if first > 4 else ""
        here = units.format_in(float(marks[worst]), unit, "pressure")
        return (
            f"{where or f'{word} than on a good day'}: {here} after {_lasting(float(ours[worst]))} "
            f"instead of {_lasting(float(theirs[worst]))}"
        )
    higher = float(p[-1]) / float(p_good[-1])
    if higher > SLOWER and t[-1] >= t_good[-1]:
        times = units.format_number(float(f"{higher:.2g}"))
        return f"as fast as on a good day, but it ends {times} times as high"
    return "as fast as on a good day"


def _lasting(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.1f} min"
