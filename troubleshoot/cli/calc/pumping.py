"""Pumping down: times, ends, what the pump can take."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import Answer, command, in_, lasting, option
from troubleshoot.cli.measures import (
    FLOW,
    PRESSURE,
    SECONDS,
    SHARE,
    TEMPERATURE,
    THROUGHPUT,
    VOLUME,
)

if TYPE_CHECKING:
    from troubleshoot.units import Quantity


@command("pump-down")
@option("--volume", VOLUME, "Chamber and everything up to the pump.")
@option("--speed", FLOW, "Pumping speed that reaches the chamber.")
@option("--from", PRESSURE, "Pressure at the start.", names=("start",), default="1atm")
@option("--to", PRESSURE, "Pressure wanted.", names=("end",))
@option("--ultimate", PRESSURE, "Where this coater ends after a long time.", default="0Pa")
def pump_down(
    volume: "Quantity", speed: "Quantity", start: "Quantity", end: "Quantity", ultimate: "Quantity"
) -> Answer:
    """Time to pump a clean, dry, tight chamber down."""
    from troubleshoot.physics.pumping import pump_down_time

    time = pump_down_time(volume.si, speed.si, start.si, end.si, ultimate.si)
    return Answer(
        {"time_s": time.value},
        f"Pumping {volume.shown()} from {start.shown()} to {end.shown()} takes "
        f"{lasting(time.value)} if the chamber is clean, dry and tight; much longer means gas from "
        "somewhere or a weak pump.",
        time.notes,
    )


@command("pressure-after")
@option("--volume", VOLUME, "Chamber and everything up to the pump.")
@option("--speed", FLOW, "Pumping speed that reaches the chamber.")
@option("--from", PRESSURE, "Pressure at the start.", names=("start",), default="1atm")
@option("--seconds", SECONDS, "How long the pump has run.")
@option("--ultimate", PRESSURE, "Where this coater ends after a long time.", default="0Pa")
def pressure_after(
    volume: "Quantity",
    speed: "Quantity",
    start: "Quantity",
    seconds: "Quantity",
    ultimate: "Quantity",
) -> Answer:
    """Pressure reached after pumping for a time."""
    from troubleshoot.physics import pumping

    pressure = pumping.pressure_after(seconds.si, volume.si, speed.si, start.si, ultimate.si)
    return Answer(
        {"pressure_Pa": pressure},
        f"After {lasting(seconds.si)} the gauge should show about "
        f"{in_(pressure, 'mbar', 'pressure')} ({in_(pressure, 'Torr', 'pressure')}) "
        "if the chamber is clean, dry and tight.",
        pumping.pump_down_notes(pressure, ultimate.si),
    )


@command("speed-needed")
@option("--volume", VOLUME, "Chamber and everything up to the pump.")
@option("--from", PRESSURE, "Pressure at the start.", names=("start",), default="1atm")
@option("--to", PRESSURE, "Pressure wanted.", names=("end",))
@option("--seconds", SECONDS, "Time allowed.")
def speed_needed(
    volume: "Quantity", start: "Quantity", end: "Quantity", seconds: "Quantity"
) -> Answer:
    """Pumping speed for a given pump-down time."""
    from troubleshoot.physics import pumping

    found = pumping.speed_needed(volume.si, seconds.si, start.si, end.si)
    speed = found.value
    return Answer(
        {"speed_m3_per_s": speed},
        f"It takes {in_(speed, 'L/s', 'volume flow')} ({in_(speed, 'm3/h', 'volume flow')}) at the "
        "chamber; the hose takes its share, so the pump must be larger.",
        found.notes,
    )


@command("ultimate")
@option("--speed", FLOW, "Pumping speed that reaches the chamber.")
@option("--gas-load", THROUGHPUT, "Leak and outgassing together, from a rate of rise.")
@option("--blank-off", PRESSURE, "What the pump alone reaches.", default="0Pa")
@click.option("--ballast", is_flag=True, help="The gas ballast is open.")
def ultimate(
    speed: "Quantity", gas_load: "Quantity", blank_off: "Quantity", ballast: bool
) -> Answer:
    """Pressure at which the chamber ends."""
    from troubleshoot.errors import UserError
    from troubleshoot.physics.gases import ATMOSPHERE
    from troubleshoot.physics.pumping import ballast_blank_off, ultimate_pressure

    floor = ballast_blank_off(blank_off.si) if ballast else blank_off.si
    pressure = ultimate_pressure(floor, gas_load.si, speed.si)
    if pressure > ATMOSPHERE:
        raise UserError(
            f"So much gas would hold the chamber at {in_(pressure, 'mbar', 'pressure')}, above the "
            "atmosphere it comes from: check the speed, the gas load and their units."
        )
    notes = ("The ballast's factor of ten is a rule of thumb.",) if ballast else ()
    return Answer(
        {"ultimate_Pa": pressure, "blank_off_Pa": floor},
        f"The chamber ends at {in_(pressure, 'mbar', 'pressure')}, of which "
        f"{in_(floor, 'mbar', 'pressure')} is the pump's own floor and the rest the gas load.",
        notes,
    )


@command("ballast")
@option("--ballast-flow", FLOW, "Air let in through the open gas ballast.")
@option("--speed", FLOW, "Pumping speed of the pump.")
@option("--pump-temperature", TEMPERATURE, "Inside the pump; it gets warm in half an hour.")
@click.option("--humidity", type=SHARE, default=0.5, show_default=True, help="Of the room, 0 to 1.")
@option("--temperature", TEMPERATURE, "Temperature of the room.", default="20degC")
def ballast(
    ballast_flow: "Quantity",
    speed: "Quantity",
    pump_temperature: "Quantity",
    humidity: float,
    temperature: "Quantity",
) -> Answer:
    """Water vapour that a pump with open ballast can take."""
    from troubleshoot.physics.pumping import ballast_tolerance
    from troubleshoot.physics.vapour import water_vapour_pressure

    most = ballast_tolerance(
        ballast_flow.si, speed.si, pump_temperature.si, humidity, temperature.si
    )
    from_wet = water_vapour_pressure(temperature.si)
    verdict = (
        "no wet specimen at room temperature gives more"
        if most >= from_wet
        else f"a wet specimen gives up to {in_(from_wet, 'mbar', 'pressure')}, so water will get "
        "into the oil: let the pump warm up first, or dry the specimen"
    )
    return Answer(
        {"water_vapour_tolerance_Pa": most, "water_vapour_pressure_Pa": from_wet},
        f"At {pump_temperature.shown()} the pump takes up to {in_(most, 'mbar', 'pressure')} of "
        f"water vapour without any of it condensing in the oil; {verdict}.",
    )
