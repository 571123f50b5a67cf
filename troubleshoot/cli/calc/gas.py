"""The process gas: sweeping air out, and what is left of it."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import Answer, Values, command, in_, lasting, option, percent
from troubleshoot.cli.measures import FLOW, PRESSURE, SECONDS, SHARE, THROUGHPUT, VOLUME, Count

if TYPE_CHECKING:
    from troubleshoot.units import Quantity


@command("purge")
@option("--low", PRESSURE, "Pressure pumped to (pump shut off while filling).", default=None)
@option("--high", PRESSURE, "Pressure filled to with argon.", default=None)
@option("--volume", VOLUME, "Chamber volume (pump running).", default=None)
@option("--speed", FLOW, "Pumping speed at the chamber (pump running).", default=None)
@option("--seconds", SECONDS, "Length of one sweep (pump running).", default=None)
@click.option("--cycles", type=Count(1, 1000), default=1, show_default=True, help="Flushes.")
def purge(
    low: "Quantity | None",
    high: "Quantity | None",
    volume: "Quantity | None",
    speed: "Quantity | None",
    seconds: "Quantity | None",
    cycles: int,
) -> Answer:
    """Air left after flushing with argon.

    With the pump shut off while argon is let in: --low and --high. With the pump running:
    --volume, --speed and --seconds.
    """
    from troubleshoot.errors import UserError
    from troubleshoot.physics.purging import filled_air_share, swept_air_share

    times = "one flush" if cycles == 1 else f"{cycles} flushes"
    leak = "a leak refills it at once (see air-share)"
    filled = (low, high)
    swept = (volume, speed, seconds)
    if low is not None and high is not None and swept == (None, None, None):
        share = filled_air_share(low.si, high.si, cycles)
        return Answer(
            {"air_fraction": share},
            f"After {times} with the pump shut off {percent(share)} of the air is left; with the "
            f"pump running far less would be, and {leak}.",
        )
    if volume is not None and speed is not None and seconds is not None and filled == (None, None):
        share = swept_air_share(volume.si, speed.si, seconds.si, cycles)
        return Answer(
            {"air_fraction": share},
            f"After {times} with the pump running {percent(share)} of the air is left, if the "
            f"chamber is tight; {leak}.",
        )
    raise UserError(
        "Give either --low and --high (pump shut off while filling) or --volume, --speed and "
        "--seconds (pump running)."
    )


@command("purge-cycles")
@option("--low", PRESSURE, "Pressure pumped to.")
@option("--high", PRESSURE, "Pressure filled to with argon, pump shut off.")
@click.option("--start", type=SHARE, default=1.0, show_default=True, help="Share of air now.")
@click.option("--target", type=SHARE, required=True, help="Share wanted, such as 0.01.")
@option("--volume", VOLUME, "Chamber volume, to tell the argon it takes.", default=None)
def purge_cycles(
    low: "Quantity", high: "Quantity", start: float, target: float, volume: "Quantity | None"
) -> Answer:
    """Flushes needed, pump shut off while filling."""
    import math

    from troubleshoot.physics.gases import ATMOSPHERE
    from troubleshoot.physics.limits import within
    from troubleshoot.physics.purging import PUREST, argon_used, cycles_needed

    within(PUREST, 1, "of air", "no bottled argon is purer than that, and no chamber tighter",
           share_wanted=target)  # fmt: skip
    exact = cycles_needed(low.si, high.si, start, target)
    whole = math.ceil(exact)
    values: Values = {"cycles": whole, "cycles_exact": exact}
    times = "one flush" if whole == 1 else f"{whole} flushes"
    sentence = (
        f"It takes {times} to bring the share from {percent(start)} to {percent(target)} in a "
        "tight chamber"
    )
    if volume is None:
        return Answer(values, f"{sentence}.")
    argon = argon_used(volume.si, low.si, high.si, whole) / ATMOSPHERE
    values["argon_m3_at_1_atm"] = argon
    return Answer(values, f"{sentence}, and {in_(argon, 'L', 'volume')} of argon at room pressure.")


@command("air-share")
@option("--leak", THROUGHPUT, "Air leaking in.")
@option("--argon-flow", THROUGHPUT, "Argon let in.")
@option("--volume", VOLUME, "Chamber volume.", default=None)
@option("--speed", FLOW, "Pumping speed at the chamber.", default=None)
@option("--seconds", SECONDS, "Time since argon was let in.", default=None)
def air_share(
    leak: "Quantity",
    argon_flow: "Quantity",
    volume: "Quantity | None",
    speed: "Quantity | None",
    seconds: "Quantity | None",
) -> Answer:
    """Air in the discharge when there is a leak."""
    from troubleshoot.physics.purging import (
        CLEAN_ENOUGH,
        TOO_MUCH_AIR,
        air_share_with_leak,
        leak_air_share,
    )

    settled = leak_air_share(leak.si, argon_flow.si)
    values: Values = {"air_fraction_settled": settled}
    verdict = (
        "clean enough for coating"
        if settled <= CLEAN_ENOUGH
        else "worth finding the leak"
        if settled <= TOO_MUCH_AIR
        else "find the leak before coating"
    )
    sentence = (
        f"The leak keeps {percent(settled)} air in the discharge however long you flush: "
        f"{verdict} (aim for {percent(CLEAN_ENOUGH)} at most; over {percent(TOO_MUCH_AIR)} is "
        "trouble)."
    )
    if volume is not None and speed is not None and seconds is not None:
        now = air_share_with_leak(seconds.si, volume.si, speed.si, leak.si, argon_flow.si)
        values["air_fraction"] = now
        sentence += f" After {lasting(seconds.si)} of argon it is {percent(now)}."
    else:
        values["air_fraction"] = settled
    return Answer(values, sentence)
