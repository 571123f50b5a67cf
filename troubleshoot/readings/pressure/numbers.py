"""The numbers of a log: speed, base, rise and how much of the base gas makes."""

import math
from collections.abc import Mapping

import numpy as np

from troubleshoot.coater.consequences import hose_share
from troubleshoot.coater.machine import Machine
from troubleshoot.readings.pressure.curve_models import MOLECULAR
from troubleshoot.readings.pressure.parts import Part, pressure_at, rise_rate
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.log_file import Log

SPEED_UNSURE = 0.25
"""In ln: a pump is slower near its limit than in the rough vacuum where V/S is seen: judgement."""
MODEL_ERROR, RATE_ERROR, BEYOND = 0.02, 0.035, 0.25
"""Of a number, and of a slope: what is wrong with it because a coater is not quite any of the
curves; and for each e-fold of time that it lies beyond the log. Judgement, checked with a
simulated coater that knows none of these curves."""


USUAL_TAU = (9.0, 0.4)
"""V/S of bench coaters in s and its spread in ln: 4 to 20 s. Judgement."""
LEFT_BY_HOSE = 0.6
"""Share of a pump's rated speed that the hose leaves near the base pressure, 0.4 to 0.9:
judgement."""


ROUGH = 300.0
"""Pa. V/S is read from a pump-down that starts above 3 mbar: below, the hose has its say."""
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
        out["pumped_for"] = Estimate(end, 0.0, "s")
        step = _step_at(log, pump)
        last = _as_modelled(comparison.averaged(lambda f: pressure_at(f, end, end)))
        out["end_pressure"] = _no_finer(last, step)
        if end >= LONG_ENOUGH:
            base = _as_modelled(comparison.averaged(lambda fit: pressure_at(fit, TEN_MINUTES, end)))
            beyond = BEYOND * base.value * max(math.log(TEN_MINUTES / end), 0.0)
            base = Estimate(base.value, math.hypot(base.sigma, beyond), base.unit)
            out["base"] = _no_finer(base, step)
        tau = time_constant(pump)
        if tau is not None:
            out["time_constant"] = tau
            if volume:
                out["speed_at_chamber"] = Estimate(
                    volume / tau.value, volume * tau.sigma / tau.value**2, "m3/s"
                )
        if target is not None:
            reached = np.flatnonzero(pump.data.pascal <= target)
            if len(reached):
                out["time_to_target"] = Estimate(float(pump.data.seconds[reached[0]]), 0.0, "s")
    if rise is not None:
        comparison = rise.comparison
        first = min(FIRST_SECONDS, float(rise.data.seconds[-1]) / 5)
        shut = _as_modelled(comparison.averaged(lambda fit: pressure_at(fit, 0.0, 1.0)))
        if pump is not None and 0 <= rise.segment.first - pump.segment.last <= 3:
            shut = out["end_pressure"]
        out["pressure_when_shut"] = _no_finer(shut, float(log.step[rise.segment.first]))
        out["rise_at_start"] = _rise_over(log, rise, first)
        out["rise_in_one_minute"] = _rise_over(log, rise, 60.0)
        if volume:
            rate = out["rise_at_start"]
            out["gas_load"] = Estimate(volume * rate.value, volume * rate.sigma, "Pa m3/s")
    return out


def time_constant(pump: Part) -> Estimate | None:
    """V/S in s in the rough vacuum, where the curve starts high enough to show it."""
    if pump.data.pascal[0] < ROUGH or pump.comparison.best.estimate("tau") is None:
        return None
    return _as_modelled(pump.comparison.averaged(lambda fit: fit.of(lambda *v: v[2], "s")))


def _tau_at(pump: Part, pascal: float) -> Estimate | None:
    """V/S in s at a pressure at which the hose already lets less through (`settles`)."""
    if time_constant(pump) is None:
        return None

    def there(*v: float) -> float:
        return v[2] * (1 + v[3] / (pascal + MOLECULAR))

    return _as_modelled(pump.comparison.averaged(lambda fit: fit.of(there, "s")))


def _as_modelled(number: Estimate, error: float = MODEL_ERROR) -> Estimate:
    """With what no number of readings averages out: a coater is not quite any of the curves."""
    sigma = math.hypot(number.sigma, error * number.value)
    return Estimate(number.value, sigma, number.unit)


def _rise_over(log: Log, rise: Part, seconds: float) -> Estimate:
    """The mean rise in Pa/s over the first `seconds`, by every model that lets it rise.

    Its uncertainty is at least that of a straight line's slope under the same scatter,
    sigma sqrt(12/n)/span, and that of the rounding of the display.
    """
    rate = rise.comparison.averaged(lambda fit: rise_rate(fit, seconds), without="still")
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
    """The share of the base that the gas coming in explains: rise x V/S / base."""
    rate, base = numbers["rise_at_start"], numbers["pressure_when_shut"]
    tau, spread = USUAL_TAU
    volume, speed = machine.numbers.get("volume"), machine.numbers.get("pump_speed")
    if volume and speed:
        tau, spread = volume / ((hose_share(machine) or LEFT_BY_HOSE) * speed), 0.3
    seen = _tau_at(pump, base.value) if pump is not None else None
    if seen is not None:
        tau, spread = seen.value, math.hypot(seen.sigma / seen.value, SPEED_UNSURE)
    share = rate.value * tau / base.value
    own = math.hypot(base.sigma / base.value, spread)
    return Estimate(share, math.hypot(share * own, rate.sigma * tau / base.value), "")
