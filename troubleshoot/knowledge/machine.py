"""The machine profile: what the lab's own coater is and what is normal on it.

Facts are choices that filter causes, findings and checks (what does not exist on this machine
vanishes); numbers scale the bands. Everything may stay unknown: then nothing is filtered and the
wide defaults hold, and are called defaults.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge.strict_yaml import read

FACTS: dict[str, tuple[str, ...]] = {
    "isolation_valve": ("yes", "no"),
    "gauge_side": ("chamber", "pump"),
    "current_set_by": ("needle_valve", "controller"),
    "hv_permit": ("gauge", "switch", "lid"),
    "venting": ("manual", "programmed"),
    "rotation": ("yes", "no"),
    "shutter": ("yes", "no"),
    "head": ("diode", "magnetron"),
    "chamber": ("glass", "metal"),
    "voltmeter": ("yes", "no"),
    "spare_gauge": ("yes", "no"),
    "thickness_monitor": ("yes", "no"),
    "trap": ("yes", "no"),
    "xray_detector": ("yes", "no"),
}
NUMBERS: dict[str, str] = {
    "usual_time": "time",
    "usual_base": "pressure",
    "usual_pressure": "pressure",
    "usual_current": "current",
    "volume": "volume",
    "pump_speed": "volume flow",
}
TEXTS = ("name", "gauge_unit")


@dataclass(frozen=True)
class Machine:
    """One coater: `facts` are known choices, `numbers` SI values, `shown` what was typed."""

    name: str = "this coater"
    gauge_unit: str = "mbar"
    facts: Mapping[str, str] = field(default_factory=dict)
    numbers: Mapping[str, float] = field(default_factory=dict)
    shown: Mapping[str, str] = field(default_factory=dict)

    def allows(self, where: Mapping[str, Any]) -> bool:
        """False only when a fact is known and contradicts `where`."""
        for key, wanted in where.items():
            options = wanted if isinstance(wanted, list) else [wanted]
            if self.facts.get(key, options[0]) not in options:
                return False
        return True

    def as_dict(self) -> dict[str, str]:
        """What a profile file holds: text for every key that is known."""
        return {"name": self.name, "gauge_unit": self.gauge_unit, **self.facts, **self.shown}

    @property
    def hash(self) -> str:
        """Twelve hex digits that change when anything in the profile does."""
        text = json.dumps(self.as_dict(), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:12]


def machine_from(data: Mapping[str, Any], place: str) -> Machine:
    """A machine from the keys of a profile. `place` names the file for messages.

    Raises `UserError` for a key, choice or number that cannot be used.
    """
    from troubleshoot.physics import units

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
        units.parse(f"1 {texts['gauge_unit']}", "pressure")
    return Machine(facts=facts, numbers=numbers, shown=shown, **texts)


def read_machine(path: Path) -> Machine:
    """The profile in a YAML file."""
    document = read(path)
    if not isinstance(document.data, dict):
        raise UserError(f"{path}: a machine profile is a list of keys with values.")
    return machine_from(document.data, str(path))
