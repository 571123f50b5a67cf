"""The machine profile: what the lab's own coater is and what is normal on it.

Facts are choices that filter causes, findings and checks (what does not exist on this machine
vanishes); numbers scale the bands. Everything may stay unknown: then nothing is filtered and the
wide defaults hold, and are called defaults. A default that the operator took for want of a number
is kept apart from what was told: it is shown, marked, and never reckoned with as this coater's own.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from troubleshoot.coater.fields import FACTS
from troubleshoot.coater.gauge_scale import GaugeScale, read_scale
from troubleshoot.coater.good_day import Curve, read_curve

# Numbers that follow from others, in SI: how often a second the pump could empty the chamber.
DERIVED = ("sweep_rate",)
ASSUMED_UNIT = "mbar"


def listed(wanted: Any) -> list[str]:
    """The choices that a filter names, one or several."""
    return wanted if isinstance(wanted, list) else [wanted]


@dataclass(frozen=True)
class Machine:
    """One coater: `facts` are known choices, `numbers` SI values, `shown` what was typed.

    `told_unit` is the gauge's, for what is typed without one; None where it was never told.
    `defaults` holds, as text, what was taken for want of something better: in neither of these.
    """

    name: str = "this coater"
    told_unit: str | None = None
    gauge_scale: str = ""
    good_day: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)
    numbers: Mapping[str, float] = field(default_factory=dict)
    shown: Mapping[str, str] = field(default_factory=dict)
    defaults: Mapping[str, str] = field(default_factory=dict)

    def number(self, name: str) -> float | None:
        """A number of the profile, or one that follows from it, in SI; None when unknown."""
        if name == "sweep_rate":
            speed, volume = self.numbers.get("pump_speed"), self.numbers.get("volume")
            return speed / volume if speed and volume else None
        return self.numbers.get(name)

    def allows(self, where: Mapping[str, Any]) -> bool:
        """False only when a fact is known and contradicts `where`."""
        for key, wanted in where.items():
            options = listed(wanted)
            if self.facts.get(key, options[0]) not in options:
                return False
        return True

    def chance(self, where: Mapping[str, Any]) -> float:
        """How likely it is that this coater is one of `where`: 1 but for what is not known of it.

        A fact that is not known counts by how common its choices are (`coater.fields`), if that is
        said. `where` is one that `allows` does not exclude.
        """
        out = 1.0
        for key, wanted in where.items():
            common = FACTS[key].common
            if common and key not in self.facts:
                out *= sum(common[option] for option in listed(wanted))
        return out

    def as_dict(self) -> dict[str, Any]:
        """What a profile file holds: text for every key that is known, and the defaults."""
        unit = {"gauge_unit": self.told_unit} if self.told_unit else {}
        told = {"name": self.name, **unit, **self.facts, **self.shown}
        if self.gauge_scale:
            told["gauge_scale"] = self.gauge_scale
        if self.good_day:
            told["good_day"] = self.good_day
        return {**told, "defaults": dict(self.defaults)} if self.defaults else told

    @property
    def scale(self) -> GaugeScale | None:
        """What the volts of the gauge mean, if that was told."""
        return read_scale(self.gauge_scale) if self.gauge_scale else None

    @property
    def good_day_curve(self) -> Curve:
        """The pump-down of a good day, in s and Pa; empty where none was kept."""
        return read_curve(self.good_day) if self.good_day else ()

    @property
    def gauge_unit(self) -> str:
        """The unit in which pressures are shown: the gauge's, or mbar for want of it."""
        return self.told_unit or ASSUMED_UNIT

    @property
    def hash(self) -> str:
        """Twelve hex digits that change when anything in the profile does."""
        text = json.dumps(self.as_dict(), sort_keys=True)
        return hashlib.sha256(text.encode()).hexdigest()[:12]
