"""A machine profile read from a file or from typed answers, numbers with their units."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from troubleshoot import units
from troubleshoot.coater.fields import FACTS, FIELDS, NUMBERS, Text
from troubleshoot.coater.gauge_scale import read_scale
from troubleshoot.coater.good_day import read_curve
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError, instead

UNMEASURED = "default, not measured"

FAR_OUT = 1e6
"""So many times beyond what is ordinary (`Number.low` to `high`) a number is none of a coater."""


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
        if isinstance(FIELDS.get(key), Text):
            texts[key] = str(value)
        elif key in FACTS:
            facts[key] = _fact(key, value, place)
        elif key in NUMBERS:
            numbers[key] = _number(key, value, place)
            shown[key] = str(value)
        elif key == "defaults":
            defaults = _defaults(value, f"{place}, key defaults")
        else:
            near = instead(str(key), [*FIELDS, "defaults"])
            raise UserError(f"{place}: unknown key {key!r}{near}.")
    unit = texts.pop("gauge_unit", None)
    if unit is not None:
        try:
            units.to_si(1, unit, "pressure")
        except UserError as error:
            raise UserError(f"{place}, key gauge_unit: {error}") from None
    for key, read in (("gauge_scale", read_scale), ("good_day", read_curve)):
        if texts.get(key):
            try:
                read(texts[key])
            except UserError as error:
                raise UserError(f"{place}, key {key}: {error}") from None
    defaults = {k: v for k, v in defaults.items() if k not in data}
    return Machine(
        told_unit=unit, facts=facts, numbers=numbers, shown=shown, defaults=defaults, **texts
    )


def _fact(key: str, value: Any, place: str) -> str:
    choices = FACTS[key].choices
    if value not in list(choices):
        raise UserError(f"{place}, key {key}: {value!r} is not one of {', '.join(choices)}.")
    return str(value)


def _number(key: str, value: Any, place: str) -> float:
    try:
        si = units.parse(str(value), NUMBERS[key].dimension).si
        _must_be_possible(key, str(value), si)
    except UserError as error:
        raise UserError(f"{place}, key {key}: {error}") from None
    return si


def _must_be_possible(key: str, text: str, si: float) -> None:
    """Raises `UserError` for a number that no coater can have; what is odd only is told elsewhere.

    Without it 1e308 mm would be reckoned with, until some formula overflows.
    """
    if si <= 0:
        raise UserError(f"{text!r} is not above zero: leave it out if it is not known.")
    number = NUMBERS[key]
    if not (number.low_with_turbo or number.low) / FAR_OUT <= si <= number.high * FAR_OUT:
        raise UserError(f"{text!r} is out of all bounds: mend the number or its unit.")


def _defaults(values: Any, place: str) -> dict[str, str]:
    if not isinstance(values, dict):
        raise UserError(f"{place}: write keys with values, such as volume: 3 L.")
    for key, value in values.items():
        if key in FACTS:
            _fact(key, value, place)
        elif key in NUMBERS:
            _number(key, value, place)
        else:
            raise UserError(f"{place}: unknown key {key!r}{instead(str(key), [*FACTS, *NUMBERS])}.")
    return {key: str(value) for key, value in values.items()}


def read_machine(path: Path) -> Machine:
    """The profile in a YAML file."""
    from troubleshoot.strict_yaml import read

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
        choices = FACTS[key].choices
        if wanted not in choices:
            raise UserError(f"{text!r} is not one of {', '.join(choices)}.")
        return wanted
    if key not in NUMBERS:
        return text
    number = NUMBERS[key]
    if number.dimension == "pressure rate" and "/" not in text and not _bare(text):
        text = f"{text}/min"
    unit = unit_of(key, gauge_unit) if number.bare and (gauge_unit or number.unit) else None
    _must_be_possible(key, text, units.parse(text, number.dimension, default_unit=unit).si)
    return f"{text} {unit}" if _bare(text) else text


def _bare(text: str) -> bool:
    """Whether a number was typed without a unit."""
    return re.fullmatch(r"[0-9.,+\-\seE]+", text) is not None


def unit_of(key: str, gauge_unit: str | None) -> str:
    """The unit in which a number of a profile is read: pressures as the gauge shows them."""
    number = NUMBERS[key]
    pressure = f"{gauge_unit}/min" if number.dimension == "pressure rate" else str(gauge_unit)
    return number.unit or pressure


def as_shown(machine: Machine, key: str) -> str | None:
    """A fact or number as people read it, a default marked as such; None where nothing is known."""
    told = machine.shown.get(key) or machine.facts.get(key)
    if told is not None:
        return told
    default = machine.defaults.get(key)
    return None if default is None else f"{default} ({UNMEASURED})"
