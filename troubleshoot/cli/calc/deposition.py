"""How much metal a run lays down, how long one takes, and what it costs."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import (
    Answer,
    between,
    command,
    digits,
    electronvolt,
    in_,
    lasting,
    metal_option,
    option,
)
from troubleshoot.cli.measures import (
    AREA,
    CURRENT,
    ENERGY,
    LENGTH,
    SECONDS,
    VOLTAGE,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from troubleshoot.cli.calc.answers import Command
    from troubleshoot.physics.deposition import Band
    from troubleshoot.physics.metals import Metal
    from troubleshoot.units import Quantity

UNKNOWN = (
    "Nobody calibrated this coater here, and published rates at like settings differ fivefold: "
    "coat a slip, and give what it got with --calibration."
)


def run_options(function: "Command") -> "Command":
    """The settings of a run, and the lab's own rate."""
    options: tuple[Callable[[Command], Command], ...] = (
        click.option(
            "--calibration",
            help="The lab's own rate of this metal: 0.75 nm/mA/min, or a run: 12 nm in 60 s at "
            "10 mA.",
        ),
        option("--target-radius", LENGTH, "Radius of the target.", default="28.5mm"),
        option("--distance", LENGTH, "From the target to the specimen's top.", default="50mm"),
        option("--voltage", VOLTAGE, "Of the discharge.", default="1kV"),
    )
    for add in options:
        function = add(function)
    return function


@command("yield")
@metal_option
@option("--energy", ENERGY, "Energy of the argon ions.")
def yielded(metal: str, energy: "Quantity") -> Answer:
    """Atoms that an argon ion knocks out of a target."""
    from troubleshoot.physics.metals import metal_named
    from troubleshoot.physics.sputtering import SPREAD, sputter_yield, threshold

    kind, volts = metal_named(metal), electronvolt(energy)
    found, least = sputter_yield(kind, volts), threshold(kind)
    ion = f"An argon ion of {energy.shown()} knocks"
    if found == 0:
        sentence = f"{ion} nothing out of {kind.name}: it takes more than {digits(least)} eV."
    else:
        sentence = f"{ion} about {digits(found)} atoms out of clean {kind.name}, within a quarter."
    return Answer(
        {
            "atoms_per_ion": found,
            "low": found * (1 - SPREAD),
            "high": found * (1 + SPREAD),
            "threshold_eV": least,
        },
        sentence,
        ("In a diode coater the ions have some 0.3 to 0.7 of the voltage.",),
    )


def _in_a_bench_coater(current: "Quantity") -> None:
    """Raise `UserError` for a current that no bench coater's supply gives."""
    from troubleshoot.physics.limits import within

    why = "no bench coater's discharge carries so much: check for mA"
    within(0, 1, "A", why, current=abs(current.si))


@command("thickness")
@metal_option
@option("--current", CURRENT, "Of the discharge.")
@option("--time", SECONDS, "How long.")
@run_options
def thickness(
    metal: str,
    current: "Quantity",
    time: "Quantity",
    voltage: "Quantity",
    distance: "Quantity",
    target_radius: "Quantity",
    calibration: str | None,
) -> Answer:
    """Thickness that a run lays down, as an interval."""
    from troubleshoot.physics.deposition import laid_down

    _in_a_bench_coater(current)
    kind, rate, notes = _rate(metal, voltage, distance, target_radius, calibration)
    coat = laid_down(rate, abs(current.si), time.si)
    return Answer(
        {"thickness_m": coat.value, "low_m": coat.low, "high_m": coat.high},
        f"{current.shown()} for {lasting(time.si)} lay down about "
        f"{in_(coat.value, 'nm', 'length')} of {kind.name} ({_range(coat)}).",
        notes,
    )


@command("time-for")
@metal_option
@option("--thickness", LENGTH, "Thickness that is wanted.")
@option("--current", CURRENT, "Of the discharge.", default="10mA")
@run_options
def time_for(
    metal: str,
    thickness: "Quantity",
    current: "Quantity",
    voltage: "Quantity",
    distance: "Quantity",
    target_radius: "Quantity",
    calibration: str | None,
) -> Answer:
    """How long to coat for a thickness, as an interval."""
    from troubleshoot.physics.deposition import time_needed
    from troubleshoot.physics.limits import within

    _in_a_bench_coater(current)
    why = "no specimen for the microscope takes such a coat"
    within(0, 1e-5, "m", why, thickness=thickness.si)
    kind, rate, notes = _rate(metal, voltage, distance, target_radius, calibration)
    time = time_needed(rate, thickness.si, abs(current.si))
    return Answer(
        {"time_s": time.value, "low_s": time.low, "high_s": time.high},
        f"{thickness.shown()} of {kind.name} take about {lasting(time.value)} at "
        f"{current.shown()} ({lasting(time.low)} to {lasting(time.high)}).",
        notes,
    )


def _rate(
    metal: str,
    voltage: "Quantity",
    distance: "Quantity",
    radius: "Quantity",
    calibration: str | None,
) -> "tuple[Metal, Band, tuple[str, ...]]":
    from troubleshoot.coater.rate import typed_run
    from troubleshoot.physics.deposition import Calibration, Settings, rate_here
    from troubleshoot.physics.metals import metal_named

    kind, at = metal_named(metal), Settings(abs(voltage.si), distance.si, radius.si)
    own = None
    if calibration is not None:
        run = typed_run(calibration)
        there: Settings = Settings(
            run.voltage or at.voltage, run.distance or at.distance, at.radius
        )
        own = Calibration(run.rate, kind, there)
    return kind, rate_here(own, kind, at), () if own else (UNKNOWN,)


def _range(band: "Band") -> str:
    return between(band.low, band.high, "nm", "length")


@command("target-loss")
@metal_option
@option("--current", CURRENT, "Of the discharge.")
@option("--time", SECONDS, "How long.")
@option("--voltage", VOLTAGE, "Of the discharge.", default="1kV")
def target_loss(metal: str, current: "Quantity", time: "Quantity", voltage: "Quantity") -> Answer:
    """Metal that a target loses."""
    from troubleshoot.physics import deposition
    from troubleshoot.physics.metals import metal_named

    kind = metal_named(metal)
    lost = deposition.target_loss(kind, abs(current.si), time.si, abs(voltage.si))
    return Answer(
        {"mass_kg": lost.value, "low_kg": lost.low, "high_kg": lost.high},
        f"The target loses about {in_(lost.value, 'mg', 'mass')} of {kind.name} "
        f"({between(lost.low, lost.high, 'mg', 'mass')}), less by what of the current is "
        "electrons; most of it lands beside the specimen.",
    )


@command("coat-mass")
@metal_option
@option("--thickness", LENGTH, "Thickness of the coat.")
@option("--area", AREA, "Area that is coated.", default="1cm2")
def coat_mass(metal: str, thickness: "Quantity", area: "Quantity") -> Answer:
    """What a coat weighs."""
    from troubleshoot.physics import deposition
    from troubleshoot.physics.metals import metal_named

    kind = metal_named(metal)
    mass = deposition.coat_mass(kind, thickness.si, area.si)
    return Answer(
        {"mass_kg": mass, "mass_kg_per_m2": mass / area.si},
        f"{thickness.shown()} of {kind.name} on {area.shown()} weigh {in_(mass, 'ug', 'mass')}, "
        "at the density of the bulk.",
    )
