"""The lab's own rate of coating: as people write it, and as the profile of a coater has it."""

import re
from dataclasses import dataclass

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.physics.deposition import (
    USUAL_DISTANCE,
    USUAL_RADIUS,
    USUAL_VOLTAGE,
    Calibration,
    Settings,
)
from troubleshoot.physics.limits import above_zero
from troubleshoot.physics.metals import Metal, metal_named

EXAMPLE = "0.75 nm/mA/min, or a run such as: 12 nm in 60 s at 10 mA"
BETWEEN = re.compile(r"\s*(?:[,;]|\b(?:in|at|from|over|and)\b)\s*")


@dataclass(frozen=True)
class Run:
    """A run whose thickness is known: m, A, s, and where they were told voltage in V, distance in
    m."""

    rate: float
    voltage: float | None = None
    distance: float | None = None


def run_of(thickness: float, current: float, time: float) -> float:
    """Rate in m/(A s) of a run: thickness in m, current in A, time in s."""
    above_zero(thickness=thickness, current=current, time=time)
    return thickness / (current * time)


def typed_run(text: str) -> Run:
    """A rate (`0.75 nm/mA/min`) or a run (`12 nm in 60 s at 10 mA, 1 kV, 50 mm`), in any order.

    The first length is the thickness, a second one the distance. Raises `UserError`.
    """
    units.check_length(text, "coat rate")
    try:
        return Run(units.parse(text, "coat rate").si)
    except UserError:
        pass
    told: dict[str, float] = {}
    for part in (p for p in BETWEEN.split(text) if p):
        for dimension in ("length", "time", "current", "voltage"):
            try:
                value = abs(units.parse(part, dimension).si)
            except UserError:
                continue
            key = "distance" if dimension == "length" and "length" in told else dimension
            if key in told:
                raise UserError(f"{text!r} holds two of one kind: write a rate, {EXAMPLE}.")
            told[key] = value
            break
        else:
            raise UserError(f"{part!r} in {text!r} is not understood: write a rate, {EXAMPLE}.")
    if not {"length", "time", "current"} <= told.keys():
        raise UserError(
            f"{text!r} is no rate: thickness, current and time are needed, as {EXAMPLE}."
        )
    rate = run_of(told["length"], told["current"], told["time"])
    return Run(rate, told.get("voltage"), told.get("distance"))


def settings_of(
    machine: Machine, voltage: float | None = None, distance: float | None = None
) -> Settings:
    """What a run on this coater is made with: as given, else its own usual, else what is usual."""
    numbers = machine.numbers
    return Settings(
        numbers.get("usual_voltage", USUAL_VOLTAGE) if voltage is None else voltage,
        numbers.get("distance", USUAL_DISTANCE) if distance is None else distance,
        numbers.get("target_radius", USUAL_RADIUS),
    )


def target_of(machine: Machine) -> Metal | None:
    """The metal in the head; None where it is not known, or none that is known here."""
    name = machine.facts.get("target", "other")
    return None if name == "other" else metal_named(name)


def calibration_of(machine: Machine) -> Calibration | None:
    """The coater's own rate for the metal in its head, as it usually runs; None where unknown."""
    rate, metal = machine.numbers.get("coat_rate"), target_of(machine)
    if rate is None or metal is None:
        return None
    return Calibration(rate, metal, settings_of(machine))
