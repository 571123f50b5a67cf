"""What is odd about a machine profile: asked about, never refused, for it may well be right."""

import math
from collections.abc import Callable

from troubleshoot import units
from troubleshoot.coater.consequences import NARROW, hose_share
from troubleshoot.coater.fields import NUMBERS
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import unit_of
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.pumping import pump_down_time

QUICK_TAU, SLOW_TAU = 1.0, 60.0
"""s. V/S of bench coaters is 4 to 20 s; beyond these one of the two numbers is wrong. Judgement."""
TOO_QUICK = 0.7
"""A pump-down in less than this share of the ideal time cannot be."""
BASE_SHARE, BASE_SHARE_OXIDES = 0.5, 0.1
"""A base above this share of the coating pressure leaves poor argon, and for a metal that oxidises
above the second: judgement."""
OXIDISING = ("chromium", "tungsten", "titanium", "aluminium", "copper", "nickel")
RISE_TOO_LARGE = 2.0
"""A rise r needs a base of at least r V/S; more than this factor above is a slip. Judgement."""
MAGNETRON_VOLTS = 1000.0
"""V. A magnetron head works below this: common practice, no source."""
NEAR, FAR = 0.75, 4.0
"""Distances in target radii beyond which a coat is very uneven, or very slow: judgement."""


def queries(machine: Machine) -> tuple[str, ...]:
    """What is odd about a profile, a sentence each: numbers to check, not errors.

    Each number that was told against what is ordinary, then numbers against one another. Defaults
    are not looked at: nobody claimed them.
    """
    odd = (odd_number(machine, key) for key in NUMBERS)
    return (*(sentence for sentence in odd if sentence), *together(machine))


def together(machine: Machine) -> tuple[str, ...]:
    """Which numbers and facts do not fit one another, a sentence each."""
    return tuple(said for check in TOGETHER if (said := check(machine)))


def odd_number(machine: Machine, key: str) -> str | None:
    """A question about one number that lies outside what is ordinary."""
    value, number = machine.numbers.get(key), NUMBERS[key]
    low = number.low
    if number.low_with_turbo is not None and machine.facts.get("turbo") == "yes":
        low = number.low_with_turbo
    if value is None or low <= value <= number.high:
        return None
    unit = unit_of(key, machine.gauge_unit)
    sizes = (value, low, number.high)
    shown = [units.format_in(size, unit, number.dimension) for size in sizes]
    return (
        f"{number.called} of {shown[0]} is unusual (most bench-top coaters: {shown[1]} to "
        f"{shown[2]}); is the unit right?"
    )


def _in(machine: Machine, key: str) -> str:
    unit = unit_of(key, machine.gauge_unit)
    return units.format_in(machine.numbers[key], unit, NUMBERS[key].dimension)


def _pump_for_volume(machine: Machine) -> str | None:
    """Volume over speed."""
    volume, speed = machine.numbers.get("volume"), machine.numbers.get("pump_speed")
    if not (volume and speed) or QUICK_TAU <= volume / speed <= SLOW_TAU:
        return None
    fits = "large" if volume / speed < QUICK_TAU else "small"
    return (
        f"A pump of {_in(machine, 'pump_speed')} is very {fits} for {_in(machine, 'volume')}: one "
        "of the two numbers may be wrong."
    )


def _base_below_coating(machine: Machine) -> str | None:
    """Base against coating pressure: what is not argon."""
    base, pressure = machine.numbers.get("usual_base"), machine.numbers.get("usual_pressure")
    metal = machine.facts.get("target")
    oxidises = metal in OXIDISING
    share = BASE_SHARE_OXIDES if oxidises else BASE_SHARE
    if not (base and pressure) or base <= share * pressure:
        return None
    end = "is not below" if base >= pressure else f"is more than {_part(share)} of"
    so = f", and {metal} oxidises" if oxidises else ""
    return (
        f"The usual base of {_in(machine, 'usual_base')} {end} the usual coating pressure of "
        f"{_in(machine, 'usual_pressure')}: so much of the gas would not be argon{so}."
    )


def _part(share: float) -> str:
    return {BASE_SHARE: "half", BASE_SHARE_OXIDES: "a tenth"}[share]


def _time_for_pump(machine: Machine) -> str | None:
    """The ideal pump-down t = (V/S) ln(p0/p) (`physics.pumping.pump_down_time`)."""
    names = ("volume", "pump_speed", "usual_time", "usual_pressure")
    volume, speed, time, pressure = (machine.numbers.get(n) for n in names)
    if not (volume and speed and time and pressure) or pressure >= ATMOSPHERE:
        return None
    least = pump_down_time(volume, speed, ATMOSPHERE, pressure).value
    if time >= TOO_QUICK * least:
        return None
    return (
        f"A pump-down in {_in(machine, 'usual_time')} is too quick: volume and pump speed need "
        f"{math.ceil(least / 60)} min at least."
    )


def _hose_for_pump(machine: Machine) -> str | None:
    """What the hose leaves of the pump's speed near the base."""
    share = hose_share(machine)
    if share is None or share >= NARROW:
        return None
    return (
        f"A hose of {_in(machine, 'hose_diameter')} bore and {_in(machine, 'hose_length')} length "
        f"leaves only {100 * share:.0f} % of the pump's speed at the base pressure; if that is so, "
        "a wider or shorter hose gains more than a larger pump."
    )


def _rise_for_base(machine: Machine) -> str | None:
    """The gas of a rise r, pumped with at most S, holds up at least the base r V/S."""
    names = ("usual_rise", "volume", "pump_speed", "usual_base")
    rise, volume, speed, base = (machine.numbers.get(n) for n in names)
    if not (rise and volume and speed and base) or rise * volume / speed <= RISE_TOO_LARGE * base:
        return None
    held = units.format_in(rise * volume / speed, machine.gauge_unit, "pressure")
    return (
        f"The gas of a rise of {_in(machine, 'usual_rise')} would hold the base at {held} or more, "
        f"and it is said to be {_in(machine, 'usual_base')}: was the rise read over one minute?"
    )


def _distance_for_target(machine: Machine) -> str | None:
    """Distance in target radii."""
    distance, radius = machine.numbers.get("distance"), machine.numbers.get("target_radius")
    if not (distance and radius) or NEAR <= distance / radius <= FAR:
        return None
    shape = "very uneven" if distance / radius < NEAR else "very thin"
    return (
        f"At {_in(machine, 'distance')} from a target of {_in(machine, 'target_radius')} radius a "
        f"coat is {shape} (about 50 mm is common): is it the radius, not the diameter?"
    )


def _voltage_for_head(machine: Machine) -> str | None:
    volts = machine.numbers.get("usual_voltage")
    if machine.facts.get("head") != "magnetron" or not volts or volts <= MAGNETRON_VOLTS:
        return None
    return f"A magnetron head works below 1 kV as a rule, not at {_in(machine, 'usual_voltage')}."


def _cylinder_at_all(machine: Machine) -> str | None:
    if machine.facts.get("process_gas") != "air" or "cylinder" not in machine.numbers:
        return None
    return "The coater is said to work with air, and yet to have an argon cylinder."


def _gauge_side(machine: Machine) -> str | None:
    facts = machine.facts
    if facts.get("isolation_valve") != "no" or facts.get("gauge_side") != "pump":
        return None
    return "The gauge is said to sit on the pump's side of a valve, and there is said to be none."


def _rise_can_be_read(machine: Machine) -> str | None:
    facts = machine.facts
    blind = facts.get("isolation_valve") == "no" or facts.get("gauge_side") == "pump"
    if not blind or "usual_rise" not in machine.numbers:
        return None
    return "A rise can only be read with a valve to the pump and the gauge on the chamber's side."


TOGETHER: tuple[Callable[[Machine], str | None], ...] = (
    _pump_for_volume, _base_below_coating, _time_for_pump, _hose_for_pump, _rise_for_base,
    _distance_for_target, _voltage_for_head, _cylinder_at_all, _gauge_side, _rise_can_be_read,
)  # fmt: skip
