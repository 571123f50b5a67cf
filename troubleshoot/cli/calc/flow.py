"""Flow through hoses and openings."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import (
    Answer,
    Values,
    command,
    digits,
    gas_option,
    in_,
    option,
    percent,
    temperature_option,
)
from troubleshoot.cli.measures import FLOW, LENGTH, PRESSURE, RISE, VOLUME

if TYPE_CHECKING:
    from troubleshoot.units import Quantity


@command("effective-speed")
@option("--volume", VOLUME, "Chamber and everything up to the shut valve.")
@option("--rise", RISE, "Rate of rise just after the valve is shut.")
@option("--base", PRESSURE, "Base pressure with the valve open.")
@option("--blank-off", PRESSURE, "What the pump alone reaches.", default="0Pa")
def effective_speed(
    volume: "Quantity", rise: "Quantity", base: "Quantity", blank_off: "Quantity"
) -> Answer:
    """Pumping speed at the chamber, from base and rise."""
    from troubleshoot.physics import rise as formulas

    speed = formulas.speed_from_rise(volume.si, rise.si, base.si, blank_off.si)
    return Answer(
        {"speed_m3_per_s": speed, "gas_load_Pa_m3_per_s": volume.si * rise.si},
        f"{in_(speed, 'L/s', 'volume flow')} ({in_(speed, 'm3/h', 'volume flow')}) reaches the "
        "chamber; far less than the pump's rating points at the hose, a valve or the pump, about "
        "the rating means the pump is well and too much gas comes in.",
    )


@command("conductance")
@gas_option("air")
@option("--diameter", LENGTH, "Inner diameter.")
@option("--length", LENGTH, "Length.")
@option("--pressure", PRESSURE, "Mean of the pressures at both ends.")
@temperature_option
@option("--pump-speed", FLOW, "Speed of the pump at the far end.", default=None)
def conductance(
    gas: str,
    diameter: "Quantity",
    length: "Quantity",
    pressure: "Quantity",
    temperature: "Quantity",
    pump_speed: "Quantity | None",
) -> Answer:
    """What a hose lets through, and leaves of the pump."""
    from troubleshoot.physics.conductance import TURBULENT_ABOVE, reynolds, tube, tube_notes
    from troubleshoot.physics.conductance import effective_speed as left_over
    from troubleshoot.physics.gas_kinetics import knudsen, mean_free_path, regime
    from troubleshoot.physics.gases import gas_named

    kind = gas_named(gas)
    given = (kind, diameter.si, length.si, pressure.si, temperature.si)
    through, notes = tube(*given), tube_notes(*given)
    ratio = knudsen(mean_free_path(kind, pressure.si, temperature.si), diameter.si)
    values: Values = {
        "conductance_m3_per_s": through,
        "knudsen": ratio,
        "regime": regime(ratio),
    }
    sentence = (
        f"{in_(through, 'L/s', 'volume flow')} of {kind.name} get through ({regime(ratio)} flow); "
        "the width counts most, and the lower the pressure the less gets through."
    )
    if pump_speed is not None:
        left = left_over(pump_speed.si, through)
        flow = reynolds(kind, left * pressure.si, diameter.si, temperature.si)
        values |= {"speed_m3_per_s": left, "reynolds": flow}
        if flow > TURBULENT_ABOVE:
            notes += ("So fast a flow may be turbulent, and then less gets through.",)
        sentence += (
            f" Of the pump's {pump_speed.shown()} the chamber gets "
            f"{in_(left, 'L/s', 'volume flow')} ({percent(left / pump_speed.si)})."
        )
    return Answer(values, sentence, notes)


@command("opening")
@gas_option("air")
@option("--diameter", LENGTH, "Diameter of the hole.")
@option("--pressure", PRESSURE, "Pressure on the high side.")
@temperature_option
def opening(
    gas: str, diameter: "Quantity", pressure: "Quantity", temperature: "Quantity"
) -> Answer:
    """What a thin round hole lets through at low pressure."""
    from troubleshoot.physics import conductance as formulas
    from troubleshoot.physics.gases import gas_named

    kind = gas_named(gas)
    found = formulas.opening(kind, diameter.si, pressure.si, temperature.si)
    return Answer(
        {"conductance_m3_per_s": found.value},
        f"{in_(found.value, 'L/s', 'volume flow')} of {kind.name} get through a hole of "
        f"{diameter.shown()}.",
        found.notes,
    )


@command("in-series")
@click.argument("conductances", nargs=-1, required=True, type=FLOW)
def in_series(conductances: "tuple[Quantity, ...]") -> Answer:
    """Parts one after another: in-series 10L/s 5L/s.

    Conductances of hoses, valves and traps, and if wanted the speed of the pump at the end.
    """
    from troubleshoot.physics import conductance as formulas

    left = formulas.in_series(*(part.si for part in conductances))
    return Answer(
        {"conductance_m3_per_s": left},
        f"Together they let {in_(left, 'L/s', 'volume flow')} through; the narrowest part decides.",
    )


@command("mean-free-path")
@gas_option("argon")
@option("--pressure", PRESSURE, "True pressure.")
@temperature_option
@option("--size", LENGTH, "Gap or bore, to tell the flow regime.", default=None)
def mean_free_path(
    gas: str, pressure: "Quantity", temperature: "Quantity", size: "Quantity | None"
) -> Answer:
    """How far an atom flies between two collisions."""
    from troubleshoot.physics import gas_kinetics as kinetics
    from troubleshoot.physics.gases import ATMOSPHERE, gas_named
    from troubleshoot.physics.limits import within

    kind = gas_named(gas)
    why = "nobody ever measured a lower pressure, and no higher one is a vacuum"
    within(1e-12, 2 * ATMOSPHERE, "Pa", why, pressure=pressure.si)
    path = kinetics.mean_free_path(kind, pressure.si, temperature.si)
    values: Values = {"mean_free_path_m": path}
    if kind.diameter is not None:
        values["mean_free_path_hard_sphere_m"] = kinetics.mean_free_path_hard_sphere(
            kind, pressure.si, temperature.si
        )
    unit = "mm" if path < 1 else "m"
    sentence = (
        f"In {kind.name} at {pressure.shown()} an atom flies about {in_(path, unit, 'length')} "
        "between collisions (from the viscosity; other definitions differ by up to 12 %)"
    )
    if size is None:
        return Answer(values, f"{sentence}.")
    ratio = kinetics.knudsen(path, size.si)
    values |= {"knudsen": ratio, "regime": kinetics.regime(ratio)}
    return Answer(
        values,
        f"{sentence}, {digits(1 / ratio)} collisions across {size.shown()}: "
        f"{kinetics.regime(ratio)} flow.",
    )
