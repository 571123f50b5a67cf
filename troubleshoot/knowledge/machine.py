"""The machine profile: what the lab's own coater is and what is normal on it.

Facts are choices that filter causes, findings and checks (what does not exist on this machine
vanishes); numbers scale the bands. Everything may stay unknown: then nothing is filtered and the
wide defaults hold, and are called defaults.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

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
    "cylinder": "volume",
    "fill_pressure": "pressure",
    "room": "volume",
}
# Numbers that follow from others, in SI: how often a second the pump could empty the chamber.
DERIVED = ("sweep_rate",)
TEXTS = ("name", "gauge_unit")


@dataclass(frozen=True)
class Machine:
    """One coater: `facts` are known choices, `numbers` SI values, `shown` what was typed."""

    name: str = "this coater"
    gauge_unit: str = "mbar"
    facts: Mapping[str, str] = field(default_factory=dict)
    numbers: Mapping[str, float] = field(default_factory=dict)
    shown: Mapping[str, str] = field(default_factory=dict)

    def number(self, name: str) -> float | None:
        """A number of the profile, or one that follows from it, in SI; None when unknown."""
        if name == "sweep_rate":
            speed, volume = self.numbers.get("pump_speed"), self.numbers.get("volume")
            return speed / volume if speed and volume else None
        return self.numbers.get(name)

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
