"""The numbers of a log: speed, base, rise and how much of the base gas makes."""

import math
from collections.abc import Mapping

import numpy as np

from troubleshoot.coater.consequences import hose_share
from troubleshoot.coater.machine import Machine
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.readings.pressure.parts import (
    DECISIVE,
    Part,
    pressure_at,
    rise_rate,
    slowed,
    throttles,
)
from troubleshoot.readings.pressure.segment import scatter
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.log_file import Log

SPEED_UNSURE = 0.4
"""In ln: a pump is slower near its limit than in the rough vacuum where V/S is seen, and what its
hose leaves there is told from the bend of one curve, which gas from the walls bends too: judgement,
checked with a simulated coater."""
MODEL_ERROR, RATE_ERROR, BEYOND = 0.02, 0.035, 0.25
"""Of a number, and of a slope: what is wrong with it because a coater is not quite any of the
curves; and for each e-fold of time that it lies beyond the log. Judgement, checked with a
simulated coater that knows none of these curves."""

USUAL_TAU = (9.0, 0.4)
"""V/S of bench coaters in s and its spread in ln: 4 to 20 s. Judgement."""
LEFT_BY_HOSE, HOSE_SPREAD, HOSE_KNOWN = 0.6, 0.4, 0.25
"""Share of a pump's speed that a sound hose leaves near the base pressure, 0.25 to 1, in ln; and
the spread where bore and length are known: judgement."""


ROUGH = 300.0
"""Pa. V/S is read from a pump-down that starts above 3 mbar: below, the hose has its say."""
ROUGH_VACUUM = 2e4
"""Pa, at which V/S is told."""
LATE, LATE_DOUBT = 4.0, 1.5
"""s that a gauge may be late by, and how much of what changes meanwhile is doubtful: judgement."""
LATE_GAUGE, SLOWEST_GAUGE = 2.5, 12.0
"""s. A fall quicker than a slow gauge follows may be the gauge's own: judgement."""
SHARP = 0.42
NEAREST, READ_OFF = 5, 0.05
"""Readings about a moment, and how far off their middle may be. Judgement."""
UNSEEN = 0.1
"""Of a pressure that went on falling while nobody wrote it down: judgement."""
STEADY, STEADY_SECONDS, STEADY_READINGS = 0.05, 60.0, 3
"""ln p, s and readings of a level that was steady before the valve was shut."""
TEN_MINUTES = 600.0


LONG_ENOUGH = 200.0
"""s. A shorter pump-down does not tell where it would end."""
FIRST_SECONDS = 5.0
"""The rise "at the start" is taken over this time: at once nobody can tell."""


def numbers_of(
    log: Log, pump: Part | None, rise: Part | None, machine: Machine, target: float | None
) -> dict[str, Estimate]:
    out: dict[str, Estimate] = {}
    volume = machine.numbers.get("volume")
    if pump is not None:
        end = float(pump.data.seconds[-1])
        comparison = pump.comparison
        narrow = throttles(pump) > -DECISIVE
        out["pumped_for"] = Estimate(end, 0.0, "s")
        step = _step_at(log, pump)
        last = _as_modelled(comparison.averaged(lambda f: pressure_at(f, end, end)))
        out["end_pressure"] = _no_finer(last, step)
        if pump.floor is not None:
            out["end_pressure"] = out["base"] = _at_most(pump.floor)
            out["pumped_for"] = Estimate(float(log.seconds[pump.segment.last]) - pump.start, 0, "s")
        elif end >= (TEN_MINUTES if narrow else LONG_ENOUGH):
            base = _as_modelled(comparison.averaged(lambda fit: pressure_at(fit, TEN_MINUTES, end)))
            beyond = BEYOND * base.value * max(math.log(TEN_MINUTES / end), 0.0)
            base = Estimate(base.value, math.hypot(base.sigma, beyond), base.unit)
            if narrow:
                base = _as_read(pump, TEN_MINUTES)
            out["base"] = _no_finer(base, step)
        # Behind something narrow the pump's own speed hardly shows.
        tau = None if narrow else _as_followed(log, pump, time_constant(pump))
        if tau is not None:
            out["time_constant"] = tau
            if volume:
                # As wide as the interval of V/S makes it, which reaches further up than down.
                part = min(tau.sigma / tau.value, 0.4)
                speed = volume / tau.value
                out["speed_at_chamber"] = Estimate(speed, speed * part / (1 - 1.96 * part), "m3/s")
        if target is not None:
            reached = np.flatnonzero(pump.data.pascal <= target)
            if len(reached):
                out["time_to_target"] = Estimate(float(pump.data.seconds[reached[0]]), 0.0, "s")
    if rise is not None:
        comparison = rise.comparison
        first = min(FIRST_SECONDS, float(rise.data.seconds[-1]) / 5)
        shut = _when_shut(log, pump, rise, out)
        if shut is not None:
            out["pressure_when_shut"] = _no_finer(shut, float(log.step[rise.segment.first]))
        start = _rise_over(log, rise, first, below=True)
        # A gauge that is late shows the rise of some seconds ago.
        pace = float(np.median(np.diff(rise.data.seconds[:20])))
        later = comparison.averaged(lambda fit: rise_rate(fit, first, LATE + pace), without="still")
        late = LATE_DOUBT * abs(start.value - later.value)
        out["rise_at_start"] = Estimate(start.value, math.hypot(start.sigma, late), start.unit)
        out["rise_in_one_minute"] = _rise_over(log, rise, 60.0)
        if volume:
            rate = out["rise_at_start"]
            out["gas_load"] = Estimate(volume * rate.value, volume * rate.sigma, "Pa m3/s")
    return out


def _as_read(pump: Part, seconds: float) -> Estimate:
    """The pressure at a moment as it was read, where no curve is quite right."""
    near = np.argsort(np.abs(pump.data.seconds - seconds))[:NEAREST]
    value = float(np.exp(np.median(np.log(pump.data.pascal[near]))))
    return Estimate(value, READ_OFF * value, "Pa")


def _at_most(pascal: float) -> Estimate:
    """A pressure of which a bound is known: its 95 % interval goes from nothing to the bound."""
    return Estimate(pascal / 2, 1.05 * pascal / 2 / 1.96, "Pa")


def _when_shut(
    log: Log, pump: Part | None, rise: Part, numbers: Mapping[str, Estimate]
) -> Estimate | None:
    """The pressure at the moment the valve was shut; None where nothing was logged about it.

    It is what was read before, where that was steady. Where the log begins with the rise it is what
    the curves say of its first moment, a gauge being late by some seconds.
    """
    if rise.floor is not None:
        return _at_most(rise.floor)
    first = rise.segment.first
    if pump is not None and 0 <= first - pump.segment.last <= 3:
        end = numbers["end_pressure"]
        return (
            end if rise.begun else Estimate(end.value, math.hypot(end.sigma, 0.1 * end.value), "Pa")
        )
    if not rise.begun:
        return None
    places = np.flatnonzero(log.seconds[: first + 1] >= log.seconds[first] - STEADY_SECONDS)
    level = np.log(log.pascal[places])
    if len(level) >= STEADY_READINGS and np.ptp(level) < max(STEADY, 6 * scatter(level)):
        value = float(np.exp(np.median(level)))
        own = float(np.std(level)) / math.sqrt(min(len(level), 4))
        return Estimate(value, value * math.hypot(own, MODEL_ERROR), "Pa")
    shut = _as_modelled(rise.comparison.averaged(lambda fit: pressure_at(fit, 0.0, 1.0)))
    rate = _rough_rate(rise)
    pace = float(np.median(np.diff(rise.data.seconds[:20])))
    return Estimate(shut.value, math.hypot(shut.sigma, rate * (LATE + pace) / 2), "Pa")


def _rough_rate(rise: Part) -> float:
    """Pa/s at the start, roughly."""
    return rise.comparison.averaged(lambda fit: rise_rate(fit, 5.0), without="still").value


def _as_followed(log: Log, pump: Part, tau: Estimate | None) -> Estimate | None:
    """A gauge that is late shows its own time instead of a quicker one of the pump.

    Two time constants one after the other show the longer one at last, and the order makes no
    difference; so the log tells only where its shoulder shows that the shorter is short. Through
    both p/p0 = (a exp(-t/a) - b exp(-t/b))/(a - b): from 0.95 to 0.7 in 0.31 a for b = 0, 0.45 a
    for b = a/4, 0.74 a for b = a.
    """
    if tau is None:
        return None
    t, p = log.seconds[pump.segment.points], log.pascal[pump.segment.points]
    top = float(p[0])
    begin, end = (float(np.interp(-top * x, -np.minimum.accumulate(p), t)) for x in (0.95, 0.7))
    pace = float(np.median(np.diff(t[:10]))) if len(t) > 1 else math.inf
    seen = pump.segment.top is None and top > 0.5 * ATMOSPHERE and pace <= tau.value / 4
    sharp = seen and end - begin < SHARP * tau.value
    if sharp:
        return tau
    doubt = LATE_GAUGE * math.exp(-((tau.value / SLOWEST_GAUGE) ** 2)) + pace / 12
    return Estimate(tau.value, math.hypot(tau.sigma, doubt), tau.unit)


def time_constant(pump: Part) -> Estimate | None:
    """V/S in s in the rough vacuum, where the curve starts high enough to show it."""
    if pump.data.pascal[0] < ROUGH or pump.comparison.best.estimate("tau") is None:
        return None
    return _tau_at(pump, ROUGH_VACUUM)


def _tau_at(pump: Part, pascal: float) -> Estimate:
    """V/S in s at a pressure at which the hose may let less through."""
    return _as_modelled(pump.comparison.averaged(lambda fit: fit.of(slowed(fit, pascal), "s")))


def _as_modelled(number: Estimate, error: float = MODEL_ERROR) -> Estimate:
    """With what no number of readings averages out: a coater is not quite any of the curves."""
    sigma = math.hypot(number.sigma, error * number.value)
    return Estimate(number.value, sigma, number.unit)


def _rise_over(log: Log, rise: Part, seconds: float, *, below: bool = False) -> Estimate:
    """The mean rise in Pa/s over the first `seconds`, by every model that lets it rise; by those of
    the readings `below` 1 mbar, if asked for and there are enough.

    Its uncertainty is at least that of a straight line's slope under the same scatter,
    sigma sqrt(12/n)/span, and that of the rounding of the display.
    """
    comparison = rise.low if below and rise.low is not None else rise.comparison
    rate = comparison.averaged(lambda fit: rise_rate(fit, seconds), without="still")
    best, span = rise.comparison.best, float(rise.data.seconds[-1])
    least = best.scatter * float(rise.data.pascal.min()) * math.sqrt(12 / best.readings) / span
    rate = _as_modelled(Estimate(rate.value, max(rate.sigma, least), rate.unit), RATE_ERROR)
    return _no_finer(rate, math.sqrt(2) * _step_at(log, rise) / max(seconds, span))


def _step_at(log: Log, part: Part) -> float:
    """The step of the display at the end of a segment, in Pa."""
    return float(log.step[part.segment.last])


def _no_finer(number: Estimate, step: float) -> Estimate:
    """With the rounding of the display, which no number of readings averages out."""
    return Estimate(number.value, math.hypot(number.sigma, step / math.sqrt(12)), number.unit)


def gas_share(pump: Part | None, numbers: Mapping[str, Estimate], machine: Machine) -> Estimate:
    """The share of the base that the gas coming in explains: rise x V/S / base, at most all of it.

    `numbers` must hold the rise at the start and the pressure when the valve was shut.
    """
    rate, base = numbers["rise_at_start"], numbers["pressure_when_shut"]
    tau, spread = _speed_near_base(pump, base.value, machine)
    share = min(rate.value * tau / base.value, 1.0)
    own = math.hypot(base.sigma / base.value, spread)
    spread = math.hypot(own, rate.sigma / max(rate.value, 1e-12))
    # As wide as the interval of its logarithm reaches up.
    return Estimate(share, share * math.expm1(1.96 * min(spread, 1.5)) / 1.96, "")


def _speed_near_base(pump: Part | None, pascal: float, machine: Machine) -> tuple[float, float]:
    """(V/S in s near the base, its spread in ln). Without a fall: what is usual.

    The bend of the fall tells it, as far as one curve can. It is no shorter than the profile's
    speed, or V/S in the rough vacuum, gives behind a sound hose; where something narrow throttles
    all the way down, the fall alone tells.
    """
    volume, speed = machine.numbers.get("volume"), machine.numbers.get("pump_speed")
    rated = volume / speed if volume and speed else None
    known = hose_share(machine)
    left = known or LEFT_BY_HOSE
    rough = time_constant(pump) if pump is not None else None
    if pump is None or rough is None:
        return (rated / left, HOSE_KNOWN if known else HOSE_SPREAD) if rated else USUAL_TAU
    bend = _tau_at(pump, pascal)
    unsure = math.hypot(bend.sigma / bend.value, SPEED_UNSURE)
    if throttles(pump) > 0:
        return bend.value, unsure
    sound = (rated or rough.value) / left
    if bend.value > sound:
        return bend.value, unsure
    return sound, HOSE_KNOWN if known else SPEED_UNSURE
