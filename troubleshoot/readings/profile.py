"""A machine profile read from a file or from typed answers, numbers with their units."""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge.machine import FACTS, NUMBERS, TEXTS, Machine
from troubleshoot.knowledge.strict_yaml import read
from troubleshoot.physics import units
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.physics.pumping import pump_down_time

BANDS = {
    "volume": ("The chamber's volume", 0.5e-3, 60e-3, "L"),
    "pump_speed": ("The pump's speed", 0.1e-3, 20e-3, "L/s"),
    "usual_base": ("The usual base pressure", 0.1, 100.0, ""),
    "usual_pressure": ("The usual coating pressure", 1.0, 100.0, ""),
    "usual_current": ("The usual current", 1e-3, 0.1, "mA"),
    "usual_time": ("The usual time to pump down", 20.0, 3600.0, "min"),
}
"""Number of a profile -> its words, what is ordinary for a bench-top coater (SI) and the unit to
show. Judgement; a unit that is left open is the gauge's."""
QUICK_TAU, SLOW_TAU = 1.0, 60.0
"""s. V/S of bench coaters is 4 to 20 s; beyond these one of the two numbers is wrong. Judgement."""
TOO_QUICK = 0.7
"""A pump-down in less than this share of the ideal time cannot be."""
BASE_SHARE = 0.5
"""A base above this share of the coating pressure leaves poor argon: judgement."""


def machine_from(data: Mapping[str, Any], place: str) -> Machine:
    """A machine from the keys of a profile. `place` names the file for messages.

    Raises `UserError` for a key, choice or number that cannot be used.
    """
    facts: dict[str, str] = {}
    numbers: dict[str, float] = {}
    shown: dict[str, str] = {}
    texts: dict[str, str] = {}
    for key, value in data.items():
        if key in TEXTS:
            texts[key] = str(value)
        elif key in FACTS:
            if value not in FACTS[key]:
                raise UserError(
                    f"{place}, key {key}: {value!r} is not one of {', '.join(FACTS[key])}."
                )
            facts[key] = value
        elif key in NUMBERS:
            try:
                numbers[key] = units.parse(str(value), NUMBERS[key]).si
            except UserError as error:
                raise UserError(f"{place}, key {key}: {error}") from None
            shown[key] = str(value)
        else:
            known = [*TEXTS, *FACTS, *NUMBERS]
            raise UserError(f"{place}: unknown key {key!r}{nearest(str(key), known)}.")
    if "gauge_unit" in texts:
        try:
            units.parse(f"1 {texts['gauge_unit']}", "pressure")
        except UserError as error:
            raise UserError(f"{place}, key gauge_unit: {error}") from None
    return Machine(facts=facts, numbers=numbers, shown=shown, **texts)


def read_machine(path: Path) -> Machine:
    """The profile in a YAML file."""
    document = read(path)
    if not isinstance(document.data, dict):
        raise UserError(f"{path}: a machine profile is a list of keys with values.")
    return machine_from(document.data, str(path))


def queries(machine: Machine) -> tuple[str, ...]:
    """What is odd about a profile, a sentence each: numbers to check, not errors.

    Each number against what is ordinary, then numbers against one another: volume over speed, the
    ideal pump-down t = (V/S) ln(p0/p) (`physics.pumping.pump_down_time`), base against coating
    pressure, and the gauge's side of a valve that is not there.
    """
    out = []
    numbers = machine.numbers
    for key, (words, low, high, unit) in BANDS.items():
        value = numbers.get(key)
        if value is None or low <= value <= high:
            continue
        unit = unit or machine.gauge_unit
        shown = [units.format_in(v, unit, NUMBERS[key]) for v in (value, low, high)]
        out.append(
            f"{words} of {shown[0]} is unusual (most bench-top coaters: {shown[1]} to {shown[2]}); "
            "is the unit right?"
        )
    volume, speed = numbers.get("volume"), numbers.get("pump_speed")
    if volume and speed and not QUICK_TAU <= volume / speed <= SLOW_TAU:
        fits = "large" if volume / speed < QUICK_TAU else "small"
        out.append(
            f"A pump of {units.format_in(speed, 'L/s', 'volume flow')} is very {fits} for "
            f"{units.format_in(volume, 'L', 'volume')}: one of the two numbers may be wrong."
        )
    base, pressure = numbers.get("usual_base"), numbers.get("usual_pressure")
    if base and pressure and base > BASE_SHARE * pressure:
        end = "is not below" if base >= pressure else "is more than half of"
        out.append(
            f"The usual base of {units.format_in(base, machine.gauge_unit, 'pressure')} {end} the "
            f"usual coating pressure of {units.format_in(pressure, machine.gauge_unit, 'pressure')}"
            ": so much of the gas would not be argon."
        )
    time = numbers.get("usual_time")
    if volume and speed and time and pressure and pressure < ATMOSPHERE:
        least = pump_down_time(volume, speed, ATMOSPHERE, pressure).value
        if time < TOO_QUICK * least:
            out.append(
                f"A pump-down in {units.format_in(time, 'min', 'time')} is too quick: volume and "
                f"pump speed need {math.ceil(least / 60)} min at least."
            )
    facts = machine.facts
    if facts.get("isolation_valve") == "no" and facts.get("gauge_side") == "pump":
        out.append(
            "The gauge is said to sit on the pump's side of a valve, and there is said to be none."
        )
    return tuple(out)
