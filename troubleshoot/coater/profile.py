"""A machine profile read from a file or from typed answers, numbers with their units.

What is odd about it is asked about, never refused: a number may be unusual and right.
"""

import math
import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from troubleshoot import units
from troubleshoot.coater.machine import FACTS, NUMBERS, TEXTS, Machine
from troubleshoot.errors import UserError, nearest
from troubleshoot.physics.conductance import effective_speed, tube
from troubleshoot.physics.gases import ATMOSPHERE, gas_named
from troubleshoot.physics.gauges import HIGHEST, true_pressure
from troubleshoot.physics.pumping import pump_down_time
from troubleshoot.physics.safety import OXYGEN_TOO_LOW, oxygen_after_release, released_volume
from troubleshoot.strict_yaml import read

BANDS = {
    "volume": ("The chamber's volume", 0.5e-3, 60e-3, "L"),
    "pump_speed": ("The pump's speed", 0.1e-3, 20e-3, "L/s"),
    "hose_diameter": ("The hose's bore", 6e-3, 50e-3, "mm"),
    "hose_length": ("The hose's length", 0.1, 5.0, "m"),
    "target_radius": ("The target's radius", 10e-3, 60e-3, "mm"),
    "distance": ("The distance from target to specimen", 20e-3, 120e-3, "mm"),
    "usual_base": ("The usual base pressure", 0.1, 100.0, ""),
    "usual_pressure": ("The usual coating pressure", 1.0, 100.0, ""),
    "usual_current": ("The usual current", 1e-3, 0.1, "mA"),
    "usual_voltage": ("The usual voltage", 150.0, 3500.0, "V"),
    "usual_time": ("The usual time to pump down", 20.0, 3600.0, "min"),
    "usual_rise": ("The usual rise", 0.01, 1.0, ""),
    "cylinder": ("The cylinder's volume", 0.4e-3, 60e-3, "L"),
    "fill_pressure": ("The full cylinder's pressure", 5e6, 30e6, "bar"),
    "room": ("The room's volume", 5.0, 1000.0, "m3"),
}
"""Number of a profile -> its words, what is ordinary for a bench-top coater (SI) and the unit to
show. Judgement; a unit that is left open is the gauge's."""
QUICK_TAU, SLOW_TAU = 1.0, 60.0
"""s. V/S of bench coaters is 4 to 20 s; beyond these one of the two numbers is wrong. Judgement."""
TOO_QUICK = 0.7
"""A pump-down in less than this share of the ideal time cannot be."""
BASE_SHARE, BASE_SHARE_OXIDES = 0.5, 0.1
"""A base above this share of the coating pressure leaves poor argon, and for a metal that oxidises
above the second: judgement."""
OXIDISING = ("chromium",)
NARROW = 0.4
"""A hose that leaves less than this of the pump's speed at the base takes most of it: judgement."""
USUAL_BASE = 3.0
"""Pa, where the coater's own base is not known: judgement."""
RISE_TOO_LARGE = 2.0
"""A rise r needs a base of at least r V/S; more than this factor above is a slip. Judgement."""
MAGNETRON_VOLTS = 1000.0
"""V. A magnetron head works below this: common practice, no source."""
NEAR, FAR = 0.75, 4.0
"""Distances in target radii beyond which a coat is very uneven, or very slow: judgement."""
UNIT_NEEDED = ("pump_speed",)
"""Two units are common, and a bare number could be either: m3/h and L/s."""
UNMEASURED = "default, not measured"


# Reading


def machine_from(data: Mapping[str, Any], place: str) -> Machine:
    """A machine from the keys of a profile. `place` names the file for messages.

    A default gives way to what was told. Raises `UserError` for a key, choice or number that cannot
    be used.
    """
    facts: dict[str, str] = {}
    numbers: dict[str, float] = {}
    shown: dict[str, str] = {}
    texts: dict[str, str] = {}
    defaults: dict[str, str] = {}
    for key, value in data.items():
        if key in TEXTS:
            texts[key] = str(value)
        elif key in FACTS:
            facts[key] = _fact(key, value, place)
        elif key in NUMBERS:
            numbers[key] = _number(key, value, place)
            shown[key] = str(value)
        elif key == "defaults":
            defaults = _defaults(value, f"{place}, key defaults")
        else:
            known = [*TEXTS, *FACTS, *NUMBERS, "defaults"]
            raise UserError(f"{place}: unknown key {key!r}{nearest(str(key), known)}.")
    if "gauge_unit" in texts:
        try:
            units.parse(f"1 {texts['gauge_unit']}", "pressure")
        except UserError as error:
            raise UserError(f"{place}, key gauge_unit: {error}") from None
    defaults = {k: v for k, v in defaults.items() if k not in data}
    return Machine(facts=facts, numbers=numbers, shown=shown, defaults=defaults, **texts)


def _fact(key: str, value: Any, place: str) -> str:
    if value not in FACTS[key]:
        raise UserError(f"{place}, key {key}: {value!r} is not one of {', '.join(FACTS[key])}.")
    return str(value)


def _number(key: str, value: Any, place: str) -> float:
    try:
        si = units.parse(str(value), NUMBERS[key]).si
        if si <= 0:
            raise UserError(f"{str(value)!r} is not above zero: leave it out if it is not known.")
    except UserError as error:
        raise UserError(f"{place}, key {key}: {error}") from None
    return si


def _defaults(values: Any, place: str) -> dict[str, str]:
    if not isinstance(values, dict):
        raise UserError(f"{place}: write keys with values, such as volume: 3 L.")
    for key, value in values.items():
        if key in FACTS:
            _fact(key, value, place)
        elif key in NUMBERS:
            _number(key, value, place)
        else:
            raise UserError(f"{place}: unknown key {key!r}{nearest(str(key), [*FACTS, *NUMBERS])}.")
    return {key: str(value) for key, value in values.items()}


def read_machine(path: Path) -> Machine:
    """The profile in a YAML file."""
    document = read(path)
    if not isinstance(document.data, dict):
        raise UserError(f"{path}: a machine profile is a list of keys with values.")
    return machine_from(document.data, str(path))


def typed_value(key: str, text: str, gauge_unit: str | None) -> str:
    """What was typed for a key, as a profile keeps it: a bare number gets the unit of its kind.

    A bare pressure needs the gauge's unit, and a bare pump speed is refused. A rise without a time
    is one of a minute. Raises `UserError`: one sentence, without the key.
    """
    text = text.strip()
    if key in FACTS:
        wanted = text.lower().replace(" ", "_").replace("-", "_")
        if wanted not in FACTS[key]:
            raise UserError(f"{text!r} is not one of {', '.join(FACTS[key])}.")
        return wanted
    if key not in NUMBERS:
        return text
    if NUMBERS[key] == "pressure rate" and "/" not in text and not _bare(text):
        text = f"{text}/min"
    known = key not in UNIT_NEEDED and (gauge_unit or BANDS[key][3])
    unit = unit_of(key, gauge_unit) if known else None
    if units.parse(text, NUMBERS[key], default_unit=unit).si <= 0:
        raise UserError(f"{text!r} is not above zero: leave it out if it is not known.")
    return f"{text} {unit}" if _bare(text) else text


def _bare(text: str) -> bool:
    """Whether a number was typed without a unit."""
    return re.fullmatch(r"[0-9.,+\-\seE]+", text) is not None


def unit_of(key: str, gauge_unit: str | None) -> str:
    """The unit in which a number of a profile is read: pressures as the gauge shows them."""
    pressure = f"{gauge_unit}/min" if NUMBERS[key] == "pressure rate" else str(gauge_unit)
    return BANDS[key][3] or pressure


# Showing


def as_shown(machine: Machine, key: str) -> str | None:
    """A fact or number as people read it, a default marked as such; None where nothing is known."""
    told = machine.shown.get(key) or machine.facts.get(key)
    if told is not None:
        return told
    default = machine.defaults.get(key)
    return None if default is None else f"{default} ({UNMEASURED})"


def notes(machine: Machine) -> tuple[str, ...]:
    """What follows from a profile and is worth a sentence: true pressure, hose, oxygen."""
    found = (_true_coating_pressure(machine), _hose_left(machine), oxygen(machine))
    return tuple(sentence for sentence in found if sentence)


def _true_coating_pressure(machine: Machine) -> str | None:
    """What the usual coating pressure is in truth, where the gauge is scaled for another gas."""
    pressure = machine.numbers.get("usual_pressure")
    kind, scaled, gas = (_likely(machine, k) for k in ("gauge_kind", "gauge_gas", "process_gas"))
    if not pressure or pressure > HIGHEST or (kind, scaled, gas) != ("heat_loss", "air", "argon"):
        return None
    true = float(f"{true_pressure('argon', pressure).value:.2g}")
    about = units.format_in(true, machine.gauge_unit, "pressure")
    taken = [k for k in ("gauge_kind", "gauge_gas", "process_gas") if k in machine.defaults]
    unsure = f", if {_words(taken)} {_is(taken)} as assumed" if taken else ""
    return (
        f"The gauge is scaled for air: the usual coating pressure of "
        f"{machine.shown['usual_pressure']} is about {about} of argon (within 20 %{unsure})."
    )


def _likely(machine: Machine, key: str) -> str | None:
    """What was told or, for want of it, the default: fit for a remark, never for a verdict."""
    return machine.facts.get(key) or machine.shown.get(key) or machine.defaults.get(key)


def _words(keys: list[str]) -> str:
    return " and ".join(k.replace("_", " ") for k in keys)


def _is(keys: list[str]) -> str:
    return "is" if len(keys) == 1 else "are"


def hose_share(machine: Machine) -> float | None:
    """The share of the pump's speed that the hose leaves at the base pressure, for air.

    S_eff / S = C / (S + C) (`physics.conductance`), C at the mean pressure of both ends. None
    unless bore, length and pump speed were told.
    """
    told = [machine.numbers.get(k) for k in ("hose_diameter", "hose_length", "pump_speed")]
    diameter, length, speed = told
    if not (diameter and length and speed):
        return None
    base = machine.numbers.get("usual_base", USUAL_BASE)
    share = 0.5
    for _ in range(30):
        # The pressure at the pump's end is the chamber's times the share: same flow at both.
        conductance = tube(gas_named("air"), diameter, length, base * (1 + share) / 2)
        share = effective_speed(speed, conductance) / speed
    return share


def _hose_left(machine: Machine) -> str | None:
    share = hose_share(machine)
    if share is None or share < NARROW:
        return None  # a narrow one is asked about
    return f"At the base pressure the hose leaves about {100 * share:.0f} % of the pump's speed."


def oxygen(machine: Machine) -> str | None:
    """What a full release of the cylinder would do to the room, if that is below the alarm level.

    Mean oxygen of the closed room, worst case (`physics.safety.oxygen_after_release`).
    """
    cylinder, room = machine.numbers.get("cylinder"), machine.numbers.get("room")
    filled = _likely(machine, "fill_pressure")
    if not (cylinder and room and filled):
        return None
    fill = units.parse(filled, "pressure").si
    if fill > BANDS["fill_pressure"][2]:
        return None
    gas = released_volume(cylinder, fill)
    left = oxygen_after_release(gas, room)
    if left >= OXYGEN_TOO_LOW:
        return None
    held = f"{machine.shown['cylinder']} at {filled}"
    if "fill_pressure" in machine.defaults:
        held += ", a default"
    return (
        f"If the whole cylinder ({held}: {units.format_in(gas, 'm3', 'volume')} of gas) emptied "
        f"into a closed room of {machine.shown['room']}, the oxygen would fall to about "
        f"{100 * left:.1f} %, below the usual alarm level of {100 * OXYGEN_TOO_LOW:.1f} %, and "
        "nobody would smell it. Ask whoever looks after safety about ventilation and an oxygen "
        "alarm; the local rules hold."
    )


# Plausibility


def queries(machine: Machine) -> tuple[str, ...]:
    """What is odd about a profile, a sentence each: numbers to check, not errors.

    Each number that was told against what is ordinary, then numbers against one another. Defaults
    are not looked at: nobody claimed them.
    """
    odd = (odd_number(machine, key) for key in BANDS)
    return (*(sentence for sentence in odd if sentence), *together(machine))


def together(machine: Machine) -> tuple[str, ...]:
    """Which numbers and facts do not fit one another, a sentence each."""
    return tuple(said for check in TOGETHER if (said := check(machine)))


def odd_number(machine: Machine, key: str) -> str | None:
    """A question about one number that lies outside what is ordinary."""
    value = machine.numbers.get(key)
    words, low, high, _ = BANDS[key]
    if value is None or low <= value <= high:
        return None
    unit = unit_of(key, machine.gauge_unit)
    shown = [units.format_in(v, unit, NUMBERS[key]) for v in (value, low, high)]
    return (
        f"{words} of {shown[0]} is unusual (most bench-top coaters: {shown[1]} to {shown[2]}); "
        "is the unit right?"
    )


def _in(machine: Machine, key: str) -> str:
    return units.format_in(machine.numbers[key], unit_of(key, machine.gauge_unit), NUMBERS[key])


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
