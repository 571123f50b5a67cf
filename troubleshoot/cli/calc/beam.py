"""What the beam of the microscope does in a specimen: how deep it gets, which charge it leaves."""

import math
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import (
    Answer,
    Command,
    between,
    command,
    digits,
    electronvolt,
    in_,
    lasting,
    option,
)
from troubleshoot.cli.measures import ENERGY, Degrees

if TYPE_CHECKING:
    from troubleshoot.physics.materials import Crossover, Material
    from troubleshoot.units import Quantity

LONGEST_FRAME = 60.0
"""s of a photo scan."""
MATERIAL = "An element by name or symbol, or pmma, nylon, chitin, glass ..."


def material_option(function: Command) -> Command:
    """`--material`, of the specimen."""
    return click.option("--material", required=True, help=MATERIAL)(function)


@command("range")
@material_option
@option("--energy", ENERGY, "Of the beam.")
def electron_range(material: str, energy: "Quantity") -> Answer:
    """How deep the beam's electrons get."""
    from troubleshoot.physics import electron_range as law
    from troubleshoot.physics.materials import material_named

    kind, volts = material_named(material), electronvolt(energy)
    depth = law.electron_range(kind, volts)
    least, most = law.range_bounds(kind, volts)
    low = volts < law.JOIN
    by = "Hovington et al. 1997" if low else "Kanaya and Okayama 1972"
    unit = "nm" if depth < 1e-6 else "um" if depth < 1e-3 else "mm"
    thin = ("Of the gas at 20 degC and 1 atm.",) if kind.density < 20 else ()
    return Answer(
        {"range_m": depth, "low_m": least, "high_m": most},
        f"Electrons of {energy.shown()} get about {in_(depth, unit, 'length')} deep into "
        f"{kind.name} ({between(least, most, unit, 'length')}, {by}).",
        thin,
    )


@command("charging")
@material_option
@option("--energy", ENERGY, "Of the beam.")
@option("--tilt", Degrees(70), "Tilt of the face.", default=0.0)
def charging(material: str, energy: "Quantity", tilt: float) -> Answer:
    """Sign of the charge that a beam leaves, and the two crossover energies."""
    from troubleshoot.physics import charging as law
    from troubleshoot.physics.materials import material_named

    kind, volts = material_named(material), electronvolt(energy)
    sign = law.charge_sign(kind, volts, tilt)
    known = law.crossover_of(kind)
    low, high = (law.tilted_crossover(e, tilt) for e in law.crossover_bounds(known))
    upper = None if known.e2 is None else law.tilted_crossover(known.e2, tilt)
    means = {
        "negative": "more arrives than leaves, so a place without a path to earth turns negative",
        "positive": "more leaves than arrives, so a place without a path to earth turns slightly "
        "positive and stays so",
        "either": "that lies too near a crossover to say which way it charges",
    }[sign]
    values: dict[str, float | str | bool | None] = {
        "sign": str(sign),
        "E1_eV": known.e1,
        "E2_eV": upper,
        "E2_low_eV": low,
        "E2_high_eV": high if math.isfinite(high) else None,
    }
    times = _leaks(kind)
    if times is not None:
        values |= {"leaks_low_s": times[0], "leaks_high_s": times[1]}
    return Answer(
        values,
        f"At {energy.shown()} on {kind.name} {means}. {_crossovers(known, upper, low, high)}",
        _notes(kind, sign, volts, upper, times),
    )


def _crossovers(known: "Crossover", upper: float | None, low: float, high: float) -> str:
    if high == 0:
        return f"Its yield never exceeds one, so it has no crossover ({known.source})."
    near = f"about {digits(upper / 1e3)} keV, " if upper is not None else ""
    lower = f" and E1 at about {digits(known.e1)} eV" if known.e1 is not None else ""
    bounds = f"{digits(low / 1e3)} to {digits(high / 1e3)} keV"
    if not math.isfinite(high):
        bounds = f"more than {digits(low / 1e3)} keV"
    return f"E2 lies at {near}{bounds}{lower} ({known.source})."


def _leaks(kind: "Material") -> tuple[float, float] | None:
    """How long a charge stays in a bulk, in s from and to; None where it is not known."""
    from troubleshoot.physics.charging import relaxation_time

    if kind.resistivity is None or kind.permittivity is None:
        return None
    low, high = (relaxation_time(ohm, kind.permittivity) for ohm in kind.resistivity)
    return low, high


def _notes(
    kind: "Material",
    sign: str,
    volts: float,
    upper: float | None,
    times: tuple[float, float] | None,
) -> tuple[str, ...]:
    from troubleshoot.physics.charging import insulator_potential

    notes = []
    if not kind.insulates:
        notes.append("With a path to earth it does not charge at all.")
    if kind.insulates and sign == "negative" and upper is not None and math.isfinite(upper):
        volt = insulator_potential(upper, volts)
        notes.append(f"With no leak at all it would be driven to about {digits(volt)} V.")
    if times is not None:
        gathers = (
            "longer than any frame, so it gathers from frame to frame"
            if times[0] > LONGEST_FRAME
            else "within a frame where it leaks fastest, and from frame to frame where it does not"
        )
        notes.append(
            f"Unlit, a charge in it leaks away in {lasting(times[0])} to {lasting(times[1])}: "
            f"{gathers}."
        )
    return tuple(notes)
