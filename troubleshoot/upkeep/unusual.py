"""What is out of the ordinary in one run, as findings that a case can begin with.

A number is held against the run log's own normal; while there is none, against the bands of its
finding, scaled to what the machine profile says (`readings.quantity.edges`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.quantity import amounts_to, unit_of
from troubleshoot.upkeep.health import SAME_PRESSURE, WATCHED, Normal, dimension
from troubleshoot.upkeep.run import Run

FAR = 2.0
"""So many times the usual is out of the ordinary: judgement. A load alone makes less."""
CURRENT = "current_at_reference"
CURRENT_FAR = 0.2
"""The same for a current at the usual pressure, as a share: as the finding has it."""


@dataclass(frozen=True)
class Tells:
    """The finding that a number of a run answers, and the complaint that it raises if it is bad."""

    finding: str
    complaint: str


TELLS = {
    "base": Tells("base_loaded", "pressure_not_reached"),
    "base_empty": Tells("base_empty", "pressure_not_reached"),
    "rise": Tells("rise_rate", "pressure_not_reached"),
    "time": Tells("pump_down_time", "slow_pump_down"),
    "time_empty": Tells("pump_down_time", "slow_pump_down"),
}
"""Series of the run log -> what it tells; the first of several that are bad gives the complaint."""


@dataclass(frozen=True)
class Unusual:
    """One thing out of the ordinary: a sentence, and the finding with its quantity or answer."""

    sentence: str
    finding: str | None = None
    quantity: str | None = None
    answer: str | None = None
    complaint: str | None = None


def unusual(
    run: Run, usual: Mapping[str, Normal], machine: Machine, findings: Mapping[str, Finding]
) -> list[Unusual]:
    """What is out of the ordinary in `run`; `usual` is the normal of the runs before it."""
    empty = ("time", "base") if run.kind == "check_up" else ()
    values = {f"{n}_empty" if n in empty else n: v for n, v in run.values.items()}
    found = [
        _number(name, values[name], usual.get(name), findings[tells.finding], machine)
        for name, tells in TELLS.items()
        if name in values
    ]
    found.append(_current(values, usual))
    if run.slip == "bad":
        found.append(Unusual("The test slip is not good."))
    return [odd for odd in found if odd is not None]


def complaint_of(found: Sequence[Unusual]) -> str | None:
    """The complaint that these raise, if any."""
    return next((odd.complaint for odd in found if odd.complaint), None)


def _number(
    name: str, value: float, usual: Normal | None, finding: Finding, machine: Machine
) -> Unusual | None:
    unit = unit_of(finding, machine) or ""
    text = units.format_in(value, unit, dimension(name))
    head = f"{WATCHED[name].words}: {text}"
    if usual is not None and usual.value > 0:
        factor = value / usual.value
        if factor < FAR:
            return None
        shown = units.format_in(usual.value, unit, dimension(name))
        times = units.format_number(float(f"{factor:.2g}"))
        sentence = f"{head}, {times} times the usual {shown}."
    else:
        sound = next(iter(finding.answers))
        if sound in amounts_to(finding, text, machine):
            return None
        sentence = f"{head}, more than on a sound coater."
    return Unusual(sentence, finding.id, quantity=text, complaint=TELLS[name].complaint)


def _current(values: Mapping[str, float], usual: Mapping[str, Normal]) -> Unusual | None:
    """A current off its usual value, where the pressure is about the usual one or is not told."""
    current, pressure = usual.get("current"), usual.get("pressure")
    if "current" not in values or current is None or current.value <= 0:
        return None
    if pressure is not None and pressure.value > 0:
        off = values.get("pressure", pressure.value) / pressure.value - 1
        if abs(off) > SAME_PRESSURE:
            return None
    factor = values["current"] / current.value
    if abs(factor - 1) <= CURRENT_FAR:
        return None
    shown, was = (units.format_in(v, "mA", "current") for v in (values["current"], current.value))
    return Unusual(
        f"Current: {shown}, where {was} is usual at this pressure.",
        CURRENT,
        answer="low" if factor < 1 else "high",
    )
