"""Gas that comes in: walls, leaks, a rise with the pump shut off."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import (
    Answer,
    Values,
    command,
    digits,
    gas_option,
    in_,
    lasting,
    option,
    percent,
    temperature_option,
)
from troubleshoot.cli.measures import (
    AREA,
    FLOW,
    LENGTH,
    PRESSURE,
    SECONDS,
    SHARE,
    TEMPERATURE,
    THROUGHPUT,
    VOLUME,
    Measure,
    Number,
)

if TYPE_CHECKING:
    from troubleshoot.units import Quantity


@command("outgassing")
@click.option("--material", type=click.Choice(["metal", "glass", "elastomer"]), required=True)
@option("--area", AREA, "Area that sees the vacuum.")
@option("--after", Measure("time", default_unit="h"), "Time pumped, 0.5 to 100 h.")
@click.option(
    "--rate",
    type=Number(),
    default=None,
    help="Rate after one hour, in Pa m3/(s m2) (without it: the usual one).",
)
def outgassing(material: str, area: "Quantity", after: "Quantity", rate: float | None) -> Answer:
    """Gas that walls or seals give off after hours."""
    from troubleshoot.physics.pumping import USUAL_RATE, outgassing_rate

    notes: tuple[str, ...] = ()
    if rate is None:
        rate = USUAL_RATE[material]
        notes = (f"The rate taken is {rate:g} Pa m3/(s m2) after one hour.",)
    load = outgassing_rate(material, rate, after.si) * area.si
    return Answer(
        {"throughput_Pa_m3_per_s": load},
        f"The {material} gives off about {in_(load, 'mbar L/s', 'throughput')}; read it as a power "
        "of ten, for pieces of the same material differ that much.",
        notes,
    )


@command("leak-rate")
@option("--volume", VOLUME, "Chamber and everything up to the shut valve.")
@option("--from", PRESSURE, "Pressure when the valve was shut.", names=("start",))
@option("--to", PRESSURE, "Pressure at the end.", names=("end",))
@option("--seconds", SECONDS, "Time between the two.")
def leak_rate(
    volume: "Quantity", start: "Quantity", end: "Quantity", seconds: "Quantity"
) -> Answer:
    """Gas entering a chamber shut off from its pump."""
    from troubleshoot.physics.rise import throughput

    flow = throughput(volume.si, start.si, end.si, seconds.si)
    rate = (end.si - start.si) / seconds.si
    return Answer(
        {"throughput_Pa_m3_per_s": flow, "rate_of_rise_Pa_per_s": rate},
        f"Gas enters at {in_(flow, 'mbar L/s', 'throughput')} ({in_(flow, 'sccm', 'throughput')}), "
        f"a rise of {in_(rate, 'mbar/min', 'pressure rate')}; a rise that stays straight is a "
        "leak, one that flattens is gas from walls, water or a trapped pocket.",
    )


@command("molar-leak-rate")
@option("--volume", VOLUME, "Chamber and everything up to the shut valve.")
@option("--from", PRESSURE, "Pressure when the valve was shut.", names=("start",))
@option("--to", PRESSURE, "Pressure at the end.", names=("end",))
@option("--seconds", SECONDS, "Time between the two.")
@option("--from-temperature", TEMPERATURE, "Temperature at the start.", default="20degC")
@option("--to-temperature", TEMPERATURE, "Temperature at the end.", default="20degC")
def molar_leak_rate(
    volume: "Quantity",
    start: "Quantity",
    end: "Quantity",
    seconds: "Quantity",
    from_temperature: "Quantity",
    to_temperature: "Quantity",
) -> Answer:
    """As leak-rate, when the temperature has moved."""
    from troubleshoot.errors import UserError
    from troubleshoot.physics import rise

    moles = rise.molar_leak_rate(
        volume.si, start.si, end.si, seconds.si, from_temperature.si, to_temperature.si
    )
    if moles < 0:
        raise UserError(
            f"With the change of temperature taken out {digits(-moles)} mol/s of gas are lost: the "
            "gas did not get so warm (a thermometer shows the room, not the gas), or the valve was "
            "open."
        )
    return Answer(
        {"leak_mol_per_s": moles},
        f"Gas enters at {digits(moles)} mol/s, with the change of temperature taken out.",
    )


@command("rise")
@click.option(
    "--cause",
    type=click.Choice(["leak", "walls", "seals", "pocket", "liquid"]),
    required=True,
    help="What lets the pressure rise.",
)
@option("--volume", VOLUME, "Chamber and everything up to the shut valve.", default="5L")
@option("--from", PRESSURE, "Pressure when the valve is shut.", names=("start",))
@option("--seconds", SECONDS, "Time after that.")
@option("--flow", THROUGHPUT, "Gas entering at the start (leak, walls, seals).", default=None)
@option("--pumped", SECONDS, "Time pumped before (walls, seals).", default=None)
@option("--pocket-volume", VOLUME, "Trapped volume (pocket).", default=None)
@option("--pocket-pressure", PRESSURE, "Pressure in it (pocket).", default="1atm")
@option("--conductance", FLOW, "Its way out (pocket).", default=None)
@option("--saturation", PRESSURE, "Vapour pressure (liquid), see vapour.", default=None)
@option("--time-constant", SECONDS, "Time to gain 63 % of the way (liquid).", default=None)
def rise(
    cause: str,
    volume: "Quantity",
    start: "Quantity",
    seconds: "Quantity",
    **given: "Quantity | None",
) -> Answer:
    """Pressure with the pump shut off, by what lets it rise."""
    from troubleshoot.physics import rise as formulas

    def need(name: str) -> float:
        from troubleshoot.errors import UserError

        quantity = given[name]
        if quantity is None:
            raise UserError(f"--{name.replace('_', '-')} is needed for --cause {cause}.")
        return quantity.si

    t, p0, v = seconds.si, start.si, volume.si
    notes: tuple[str, ...] = ()
    if cause == "leak":
        pressure = formulas.leak_pressure(t, p0, need("flow"), v)
        shape = "a straight line that never stops"
    elif cause == "walls":
        pressure = formulas.wall_pressure(t, p0, need("flow"), need("pumped"), v)
        notes = formulas.outgassing_notes(need("pumped"))
        shape = "a curve that keeps flattening"
    elif cause == "seals":
        pressure = formulas.seal_pressure(t, p0, need("flow"), need("pumped"), v)
        notes = formulas.outgassing_notes(need("pumped"))
        shape = "a curve that flattens slowly"
    elif cause == "pocket":
        pressure = formulas.virtual_leak_pressure(
            t, p0, need("pocket_pressure"), need("pocket_volume"), v, need("conductance")
        )
        shape = "a curve that stops when the pocket is empty"
    else:
        pressure = formulas.vapour_pressure_limited(
            t, p0, need("saturation"), need("time_constant")
        )
        shape = "a curve that stops at the vapour pressure"
    return Answer(
        {"pressure_Pa": pressure},
        f"After {lasting(t)} the chamber is at {in_(pressure, 'mbar', 'pressure')}: {shape}.",
        notes,
    )


@command("leak-allowed")
@option("--pressure", PRESSURE, "True working pressure, argon on.")
@option("--speed", FLOW, "Pumping speed at the chamber.")
@click.option("--share", type=SHARE, default=0.1, show_default=True, help="Air one can live with.")
@option("--volume", VOLUME, "Chamber volume, to tell the rate of rise.", default=None)
def leak_allowed(
    pressure: "Quantity", speed: "Quantity", share: float, volume: "Quantity | None"
) -> Answer:
    """Largest leak that still lets one coat."""
    from troubleshoot.physics import purging
    from troubleshoot.physics.limits import above_zero

    leak = purging.leak_allowed(pressure.si, speed.si, share)
    values: Values = {"throughput_Pa_m3_per_s": leak}
    sentence = (
        f"A leak of up to {in_(leak, 'mbar L/s', 'throughput')} keeps the air in the discharge at "
        f"{percent(share)} or less"
    )
    if volume is None:
        return Answer(values, f"{sentence}.")
    above_zero(volume=volume.si)
    rise = leak / volume.si
    values["rate_of_rise_Pa_per_s"] = rise
    return Answer(
        values,
        f"{sentence}: with the pump shut off the pressure then rises by no more than "
        f"{in_(rise, 'mbar/min', 'pressure rate')}, walls and water included.",
    )


@command("leak-convert")
@option("--leak", THROUGHPUT, "The leak, in the gas it was measured with.")
@gas_option("air")
@click.option("--to", "other", default="helium", show_default=True, help="The other gas.")
@temperature_option
def leak_convert(leak: "Quantity", gas: str, other: str, temperature: "Quantity") -> Answer:
    """The same leak in another gas, and as a mass."""
    from troubleshoot.physics import leaks
    from troubleshoot.physics.gases import gas_named

    kind, wanted = gas_named(gas), gas_named(other)
    mass = leaks.mass_flow(kind, leak.si, temperature.si)
    fine = leak.si * leaks.molecular_ratio(kind, wanted)
    coarse = leak.si * leaks.viscous_ratio(kind, wanted, temperature.si)
    return Answer(
        {
            "molecular_Pa_m3_per_s": fine,
            "viscous_Pa_m3_per_s": coarse,
            "mass_kg_per_s": mass,
        },
        f"{leak.shown()} of {kind.name} is {digits(mass * 3.6e6)} g an hour; the same leak lets "
        f"through {in_(fine, 'mbar L/s', 'throughput')} of {wanted.name} if it is fine (below some "
        f"1e-7 mbar L/s) and {in_(coarse, 'mbar L/s', 'throughput')} if it is coarse (above some "
        "1e-5 mbar L/s).",
    )


@command("permeation")
@click.option("--material", type=click.Choice(["nitrile", "FKM", "silicone"]), required=True)
@option("--length", LENGTH, "Length of the seal all round.")
@click.option("--humidity", type=SHARE, default=0.6, show_default=True, help="Of the room, 0 to 1.")
@option("--temperature", TEMPERATURE, "Temperature of the room.", default="20degC")
@option("--speed", FLOW, "Pumping speed at the chamber, to tell the pressure.", default=None)
def permeation(
    material: str,
    length: "Quantity",
    humidity: float,
    temperature: "Quantity",
    speed: "Quantity | None",
) -> Answer:
    """Room air that passes through a sound rubber seal."""
    from troubleshoot.physics.leaks import seal_permeation
    from troubleshoot.physics.pumping import ultimate_pressure

    flow = seal_permeation(material, length.si, humidity, temperature.si)
    values: Values = {"throughput_Pa_m3_per_s": flow}
    sentence = (
        f"About {in_(flow, 'mbar L/s', 'throughput')} of room air pass through the rubber itself "
        "(to a factor of five)"
    )
    if speed is None:
        return Answer(values, f"{sentence}; more than that is a leak past the seal.")
    lift = ultimate_pressure(0, flow, speed.si)
    values["pressure_Pa"] = lift
    return Answer(
        values,
        f"{sentence}, which the pump holds at {in_(lift, 'mbar', 'pressure')}; a base pressure "
        "well above that has another cause.",
    )


@command("vapour")
@click.option(
    "--substance", default="water", show_default=True, help="Or acetone, ethanol, isopropanol."
)
@option("--temperature", TEMPERATURE, "Temperature of the liquid.", default="20degC")
def vapour(substance: str, temperature: "Quantity") -> Answer:
    """Vapour pressure of water and solvents."""
    from troubleshoot.physics.vapour import vapour_pressure

    pressure = vapour_pressure(substance.lower(), temperature.si)
    return Answer(
        {"vapour_pressure_Pa": pressure},
        f"{substance.capitalize()} at {temperature.shown()} has a vapour pressure of "
        f"{in_(pressure, 'mbar', 'pressure')}; as long as any is left, a shut chamber rises to it "
        "and stops there.",
    )
