"""What a log says of the findings of the rule base: soft evidence, answer by answer."""

import math
from collections.abc import Mapping, Sequence

import numpy as np

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.pressure.fits import Comparison
from troubleshoot.readings.pressure.numbers import time_constant
from troubleshoot.readings.pressure.parts import Part, still_falls
from troubleshoot.readings.pressure.verdict import GAS_SHARE, PUMP_SHARE
from troubleshoot.readings.quantity import likelihood
from troubleshoot.readings.reading import Estimate

SLOW_TAU = 15.0
"""s. From the atmosphere to 10 mbar in more than a minute is slow: judgement."""
SLOW_RATIO = 2.0


SURELY = 0.75
"""From this probability on what was read is as usual; below one less this, it is not. Between
them it lies at the edge, and that is said. Judgement."""
LEAST_SHARE = 0.01
"""No answer is made less likely than this by the shape of one curve."""


def soft_findings(
    pump: Part | None,
    rise: Part | None,
    numbers: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    machine: Machine,
    empty: bool,
    timed: bool,
) -> dict[str, tuple[float, ...]]:
    out: dict[str, tuple[float, ...]] = {}

    def bands(name: str, number: Estimate | None) -> tuple[float, ...] | None:
        if name not in findings or number is None:
            return None
        return in_bands(findings[name], number, machine)

    base = numbers.get("base") or numbers.get("pressure_when_shut")
    base_bands = bands("base_loaded", base)
    loaded = "base_empty" if empty else "base_loaded"
    rise_bands = bands("rise_rate", numbers.get("rise_in_one_minute"))
    for name, told in ((loaded, bands(loaded, base)), ("rise_rate", rise_bands)):
        if told is not None:
            out[name] = told
    if timed and pump is not None and "pump_down_time" in findings:
        out["pump_down_time"] = _time_bands(numbers, findings["pump_down_time"], machine)
    if rise is not None:
        add(out, findings, "rise_shape", _shape_of_rise(rise.comparison))
        if base_bands and rise_bands and "gas_share_of_base" in numbers:
            against = against_base(numbers["gas_share_of_base"], base_bands, rise_bands)
            add(out, findings, "rise_against_base", against)
    if pump is not None and base_bands and "base" in numbers:
        add(out, findings, "curve_shape", _shape_of_fall(pump, base_bands, machine))
    return {k: v for k, v in out.items() if machine.allows(findings[k].machine)}


def in_bands(finding: Finding, number: Estimate, machine: Machine) -> tuple[float, ...]:
    """P(number | answer) up to a factor, the number's own uncertainty added to the gauge's."""
    quantity = finding.quantity
    if quantity is None:
        raise ValueError(f"{finding.id} is not a quantity")
    own = number.sigma / number.value if number.value > 0 else 0.0
    spread = min(math.hypot(quantity.spread, own), 0.99)
    wider = finding.model_copy(update={"quantity": quantity.model_copy(update={"spread": spread})})
    unit = units.si_unit(quantity.dimension)
    return likelihood(wider, f"{max(number.value, 0.0):.9e} {unit}", machine)


def _time_bands(
    numbers: Mapping[str, Estimate], finding: Finding, machine: Machine
) -> tuple[float, ...]:
    """The time to the target; if it was not reached, at least the time that was pumped."""
    reached = numbers.get("time_to_target")
    if reached is not None:
        return in_bands(finding, reached, machine)
    least = in_bands(finding, numbers["pumped_for"], machine)
    # It will take longer than this: every later answer stays as likely as the one reached.
    return tuple(float(x) for x in np.maximum.accumulate(least))


def add(
    out: dict[str, tuple[float, ...]],
    findings: Mapping[str, Finding],
    name: str,
    told: Mapping[str, float],
) -> None:
    if name in findings:
        out[name] = tuple(
            max(told.get(answer, LEAST_SHARE), LEAST_SHARE) for answer in findings[name].answers
        )


def _shape_of_rise(comparison: Comparison) -> dict[str, float]:
    kinds = comparison.kinds()
    top = max(kinds.values())
    small = math.exp(kinds.get("still", -50.0) - top)
    straight = comparison.probability("leak")
    bends = sum(comparison.probability(k) for k in ("vapour", "virtual_leak", "leak_and_vapour"))
    total = max(straight + bends, 1e-9)
    return {
        "too_small": small,
        "straight": (1 - small) * straight / total,
        "bends_over": (1 - small) * bends / total,
    }


def against_base(share: Estimate, base: Sequence[float], rise: Sequence[float]) -> dict[str, float]:
    usual = base[0] / sum(base)
    fast = sum(rise[2:]) / sum(rise)
    middle = math.sqrt(GAS_SHARE * PUMP_SHARE)
    gas = above(share.value, middle, min(share.sigma / max(share.value, 1e-9), 1.5))
    return {
        "fits_usual": usual * (1 - fast),
        "gas_comes_in": (1 - usual) * gas + usual * fast,
        "too_small_for_base": (1 - usual) * (1 - gas),
    }


def above(value: float, edge: float, spread: float) -> float:
    """P(true value > edge) of a log-normal reading."""
    if value <= 0:
        return 0.0
    return 0.5 * (1 + math.erf(math.log(value / edge) / (max(spread, 1e-3) * math.sqrt(2))))


def _shape_of_fall(pump: Part, base: Sequence[float], machine: Machine) -> dict[str, float]:
    slow = how_slow(pump, machine)
    end = float(pump.data.seconds[-1])
    pairs = zip(pump.comparison.fits, pump.comparison.weights, strict=True)
    creeps = sum(w for fit, w in pairs if still_falls(fit, end))
    usual = base[0] / sum(base)
    bursts = (0.0, 0.3, 0.9)[min(pump.segment.kicks, 2)]
    rest = 1 - bursts
    return {
        "usual": rest * (1 - slow) * usual,
        "slow_throughout": rest * slow,
        "creeps_down": rest * (1 - slow) * (1 - usual) * creeps,
        "stops_dead": rest * (1 - slow) * (1 - usual) * (1 - creeps),
        "bursts": bursts,
    }


def how_slow(pump: Part, machine: Machine) -> float:
    """P(V/S is much longer than it should be)."""
    tau = time_constant(pump)
    if tau is None:
        return 0.1
    volume, speed = machine.numbers.get("volume"), machine.numbers.get("pump_speed")
    edge = SLOW_RATIO * volume / speed if volume and speed else SLOW_TAU
    return above(tau.value, edge, math.hypot(tau.sigma / tau.value, 0.2))


def how_usual(soft: Mapping[str, Sequence[float]], findings: Mapping[str, Finding]) -> float:
    """P(what was read is as on a healthy coater), answers alike before: that of the least usual."""
    usual = {
        "base_loaded": ("usual",),
        "base_empty": ("usual",),
        "curve_shape": ("usual",),
        "rise_rate": ("small", "ordinary"),
        "rise_against_base": ("fits_usual",),
    }
    told = []
    for name in (n for n in usual if n in soft):
        pairs = list(zip(findings[name].answers, soft[name], strict=True))
        total = sum(p for _, p in pairs)
        told.append(sum(p for answer, p in pairs if answer in usual[name]) / total)
    return min(told, default=0.0)
