"""The run log: ten seconds a run. One entry, and how it is stored."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from troubleshoot import units
from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ATMOSPHERE

BEGINNING, DAY = datetime(1970, 1, 1), timedelta(days=1)

KINDS = ("run", "check_up", "care")
QUANTITIES: dict[str, str] = {
    "time": "time",
    "base": "pressure",
    "rise": "pressure rate",
    "pressure": "pressure",
    "current": "current",
    "seconds": "time",
}
"""What an entry may hold, and its dimension: time to the coating pressure, base pressure, rise with
the pump shut off, pressure and current while coating, and the seconds coated."""

MOST = {"time": 7 * 86400.0, "pressure": 2 * ATMOSPHERE, "pressure rate": 2 * ATMOSPHERE,
        "current": 1e3}  # fmt: skip
"""SI. What lies above is a slip of the number or its unit, which would move what is usual from then
on: no pump-down lasts a week, no meter on a bench-top coater shows more. Judgement, with decades to
spare."""


@dataclass(frozen=True)
class Run:
    """One entry. `kind`: "run" (a coating), "check_up" (empty) or "care" (only upkeep).

    `values` in SI, by the names of `QUANTITIES`; `did`: IDs of the care that was done.
    """

    at: str
    kind: str
    values: Mapping[str, float] = field(default_factory=dict)
    metal: str | None = None
    slip: str | None = None
    did: tuple[str, ...] = ()

    def as_data(self) -> dict[str, Any]:
        """What is stored of it beside `at` and `kind`."""
        return {
            "values": dict(self.values),
            "metal": self.metal,
            "slip": self.slip,
            "did": list(self.did),
        }

    @classmethod
    def of(cls, at: str, kind: str, data: Mapping[str, Any]) -> "Run":
        """The entry that `as_data` came from."""
        return cls(at, kind, data["values"], data["metal"], data["slip"], tuple(data["did"]))

    @classmethod
    def taken_up(cls, at: str, kind: str, data: Mapping[str, Any]) -> "Run":
        """As `of`, of data from elsewhere. Raises `UserError` for what no run log holds."""
        run = cls.of(at, kind, data)
        if kind not in KINDS:
            raise UserError(f"{kind!r} is no kind of run (one of {', '.join(KINDS)})")
        for name, si in run.values.items():
            if name not in QUANTITIES or type(si) not in (int, float) or not math.isfinite(si):
                raise UserError(f"{name} {si!r} is no reading of a run")
        if run.slip not in (None, "good", "bad") or not isinstance(run.metal, str | None):
            raise UserError("slip is good, bad or null, and metal a text or null")
        if not all(isinstance(name, str) for name in run.did):
            raise UserError("did is a list of names of care")
        return run

    @property
    def day(self) -> float:
        """Its date and time in days, by the clock of its own place."""
        return (datetime.fromisoformat(self.at).replace(tzinfo=None) - BEGINNING) / DAY


def doubts(run: Run) -> list[str]:
    """What cannot be in one entry: a sentence each."""
    base, pressure = run.values.get("base"), run.values.get("pressure")
    out = []
    if base is not None and pressure is not None and base >= pressure:
        out.append(
            f"The base of {units.format_in(base, 'mbar')} is not below the coating pressure of "
            f"{units.format_in(pressure, 'mbar')}: check both and their units."
        )
    for name, v in run.values.items():
        if v <= 0 and name != "rise":
            out.append(f"The {name} is not above zero, which says nothing: leave it out.")
        if abs(v) > MOST[dimension := QUANTITIES[name]]:
            shown = units.format_in(v, units.units_of(dimension)[0], dimension)
            out.append(f"The {name} of {shown} cannot be: mend the number or its unit.")
    return out
