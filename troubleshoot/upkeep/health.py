"""What the run log says of a machine: its normal, its trends, and the care that is due.

Everything here is a pure function of the entries; only their own dates are read, never the clock.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from, unit_of
from troubleshoot.knowledge.model import Care
from troubleshoot.readings.trend import FEWEST, Z95, robust_trend
from troubleshoot.upkeep.run import QUANTITIES, Run

LATELY = 20
"""So many entries make the normal; older ones are of another machine. Judgement, as all below."""
FEW = 3
"""With fewer entries there is no normal."""
TREND_DAYS, LEAST_DAYS = 56.0, 7.0
"""A trend is sought in the last eight weeks and must span a week."""
SURE = 0.975
"""P(it moves that way at all) from which a trend is told."""
SAME_PRESSURE = 0.15
"""Currents are compared where the pressure is within this share of its median."""


# The machine's normal


@dataclass(frozen=True)
class Normal:
    """The median of `count` entries, and between what half of them lie (SI)."""

    value: float
    low: float
    high: float
    count: int


def normal(runs: Sequence[Run]) -> dict[str, Normal]:
    """What is usual, by series (see `series`): from the latest `LATELY` entries without a bad slip.

    A series with fewer than `FEW` entries has no normal.
    """
    out = {}
    for name, entries in series([r for r in runs if r.slip != "bad"]).items():
        values = [value for _, value in entries[-LATELY:]]
        if len(values) >= FEW:
            low, middle, high = (float(q) for q in np.quantile(values, [0.25, 0.5, 0.75]))
            out[name] = Normal(middle, low, high, len(values))
    return out


def series(runs: Iterable[Run]) -> dict[str, list[tuple[float, float]]]:
    """(day, value) by name, oldest first; empty and loaded pump-downs are kept apart.

    `current` holds only what was read at about the usual pressure, or without a pressure.
    """
    ordered = sorted(runs, key=lambda r: r.day)
    pressures = [r.values["pressure"] for r in ordered if "pressure" in r.values]
    usual = float(np.median(pressures)) if pressures else None
    out: dict[str, list[tuple[float, float]]] = {}
    for run in ordered:
        for name, value in run.values.items():
            if name == "current" and usual is not None:
                pressure = run.values.get("pressure", usual)
                if abs(pressure / usual - 1) > SAME_PRESSURE:
                    continue
            empty = run.kind == "check_up" and name in ("time", "base")
            out.setdefault(f"{name}_empty" if empty else name, []).append((run.day, value))
    return out


PROFILE = {
    "usual_time": "time",
    "usual_base": "base_empty",
    "usual_pressure": "pressure",
    "usual_current": "current",
    "usual_rise": "rise",
}
"""Number of a machine profile -> the series that gives it."""


def profile_numbers(machine: Machine, found: Mapping[str, Normal]) -> dict[str, str]:
    """The numbers of a profile that the run log gives, as text in units the lab reads."""
    return {
        key: units.format_in(found[name].value, unit_of(key, machine.gauge_unit), dimension(name))
        for key, name in PROFILE.items()
        if name in found and found[name].value > 0
    }


def with_numbers(machine: Machine, numbers: Mapping[str, str]) -> Machine:
    """The profile with these numbers in place of its own. Raises `UserError` for a bad one."""
    return machine_from({**machine.as_dict(), **numbers}, f"machine {machine.name}")


def dimension(name: str) -> str:
    """What a series measures."""
    return QUANTITIES[name.removesuffix("_empty")]


# Trends


@dataclass(frozen=True)
class Watched:
    """A series that tells of a fault before it is one."""

    words: str
    way: int  # +1: more is worse, -1: less is worse, 0: either
    least: float  # the factor from which it is told
    look: str


WATCHED = {
    "base_empty": Watched(
        "Base pressure, empty", 1, 1.5,
        "wipe the seals and look at the pump's oil; then compare with the rise",
    ),
    "base": Watched(
        "Base pressure, loaded", 1, 1.5,
        "compare with an empty chamber: is it the load, or the coater?",
    ),
    "time_empty": Watched(
        "Time to pump down, empty", 1, 1.3, "look at seals, oil, hose and trap"
    ),
    "time": Watched(
        "Time to pump down", 1, 1.3, "pump down empty: is it the load, or the coater?"
    ),
    "rise": Watched("Rise with the pump shut off", 1, 1.5, "wipe the seals and the vent's seat"),
    "current": Watched(
        "Current at the usual pressure", 0, 1.2,
        "look at the gauge, the target and the argon before you turn a knob for it",
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Worsening:
    """A trend: the fitted line from `start` to `end` (SI), the factor and its 95 % interval."""

    name: str
    start: float
    end: float
    low: float
    high: float
    days: float
    count: int

    @property
    def factor(self) -> float:
        return self.end / self.start

    def sentence(self, unit: str) -> str:
        """What moves, how far, how surely, and where to look."""
        first, last = (
            units.format_number(float(f"{units.from_si(v, unit, dimension(self.name)):.2g}"))
            for v in (self.start, self.end)
        )
        weeks = max(1, round(self.days / 7))
        over = "a week" if weeks == 1 else f"{weeks} weeks"
        times, low, high = (units.format_number(round(x, 1)) for x in
                            (self.factor, self.low, self.high))  # fmt: skip
        watched = WATCHED[self.name]
        return (
            f"{watched.words}: from {first} to {last} {unit} in {over} (times {times}, between "
            f"{low} and {high}; {self.count} entries). Before it becomes a fault: {watched.look}."
        )


def worsening(runs: Sequence[Run]) -> list[Worsening]:
    """The trends of the last `TREND_DAYS` that go the wrong way, largest first.

    A line is drawn through the logarithms by `robust_trend`, so one spoilt run does not count. It
    is told if it is sure to be no scatter (`SURE`) and large enough to matter (`Watched.least`).
    """
    found = []
    for name, entries in series(runs).items():
        if name not in WATCHED:
            continue
        lately = [(d, v) for d, v in entries if d >= entries[-1][0] - TREND_DAYS and v > 0]
        trend = _trend(name, lately)
        if trend is not None:
            found.append(trend)
    return sorted(found, key=lambda w: -abs(math.log(w.factor)))


def _trend(name: str, entries: Sequence[tuple[float, float]]) -> Worsening | None:
    days = entries[-1][0] - entries[0][0] if entries else 0.0
    if len(entries) < FEWEST or days < LEAST_DAYS:
        return None
    line = robust_trend([d for d, _ in entries], [math.log(v) for _, v in entries])
    if line is None:
        return None
    watched = WATCHED[name]
    way = watched.way or (1 if line.slope > 0 else -1)
    rising = line.probability_above(0.0)
    sure = rising if way > 0 else 1 - rising
    # Where either way is worse, two chances of being misled are taken.
    needed = SURE if watched.way else (1 + SURE) / 2
    grown = line.slope * days
    if sure < needed or way * grown < math.log(watched.least):
        return None
    wide = Z95 * line.sigma * days
    return Worsening(
        name=name,
        start=math.exp(line.at(entries[0][0])),
        end=math.exp(line.at(entries[-1][0])),
        low=math.exp(grown - wide),
        high=math.exp(grown + wide),
        days=days,
        count=len(entries),
    )


# Care


@dataclass(frozen=True)
class Due:
    """Upkeep whose time has come. `runs` and `days` since it was last done, None if never noted."""

    care: Care
    runs: int
    days: float | None

    @property
    def sentence(self) -> str:
        """What to do, and why now."""
        name = f"{self.care.name}: "
        if self.days is None:
            return f"{name}no record that it was ever done. {self.care.say}"
        return f"{name}last done {self.runs} runs and {self.days:.0f} days ago. {self.care.say}"


def care_due(runs: Sequence[Run], care: Iterable[Care], machine: Machine, today: date) -> list[Due]:
    """The care that is due on a day, most overdue first; what was never noted comes last.

    What was never noted is due once the log is as old as its interval: before that nobody knows.
    """
    ordered = sorted(runs, key=lambda r: r.day)
    due: list[tuple[float, Due]] = []
    for item in care:
        if not machine.allows(item.machine) or not ordered:
            continue
        done = [r for r in ordered if item.id in r.did]
        since = done[-1] if done else ordered[0]
        coated = sum(r.kind == "run" for r in ordered if r.day > since.day)
        days = float((today - datetime.fromisoformat(since.at).date()).days)
        share = max(coated / (item.runs or math.inf), days / (item.days or math.inf))
        if share >= 1:
            due.append((share if done else 1 / share, Due(item, coated, days if done else None)))
    return [d for _, d in sorted(due, key=lambda pair: -pair[0])]
