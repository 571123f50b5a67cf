"""A machine profile read from a file or from typed answers, numbers with their units."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge.machine import FACTS, NUMBERS, TEXTS, Machine
from troubleshoot.knowledge.strict_yaml import read
from troubleshoot.physics import units


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
