"""Coats: another metal at the same current, and a thickness monitor that was told wrong."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import Answer, command, digits, in_, lasting, option
from troubleshoot.cli.measures import LENGTH, SECONDS, Number

if TYPE_CHECKING:
    from troubleshoot.units import Quantity


@command("other-metal")
@click.option("--from", "old", default="gold", show_default=True, help="Metal of the recipe.")
@click.option("--to", "new", required=True, help="Metal that is fitted.")
@option("--seconds", SECONDS, "Time of the recipe.")
def other_metal(old: str, new: str, seconds: "Quantity") -> Answer:
    """Time for the same thickness of another metal."""
    from troubleshoot.physics.metals import metal_named
    from troubleshoot.physics.sputtering import relative_rate

    metal, reference = metal_named(new), metal_named(old)
    rate = relative_rate(metal, reference)
    time = seconds.si / rate
    return Answer(
        {"rate_ratio": rate, "time_s": time, "density_kg_per_m3": metal.density},
        f"{metal.name.capitalize()} goes on at about {digits(rate)} of the rate of "
        f"{reference.name}: {lasting(seconds.si)} become about {lasting(time)} at the same "
        "current, within a quarter.",
        ("Prove it with a slip; a dose of another coater says nothing here.",),
    )


@command("monitor")
@option("--shown", LENGTH, "Thickness that the monitor shows.")
@click.option("--set-to", "wrong", required=True, help="Metal that the monitor was set to.")
@click.option("--metal", "right", required=True, help="Metal that was coated.")
@option("--tooling-set", Number(), "Tooling factor that was set.", default=1.0)
@option("--tooling", Number(), "Tooling factor that is right.", default=1.0)
def monitor(
    shown: "Quantity", wrong: str, right: str, tooling_set: float, tooling: float
) -> Answer:
    """True thickness behind a monitor set to another metal or factor."""
    from troubleshoot.physics.metals import metal_named
    from troubleshoot.physics.quartz import true_thickness

    told, metal = metal_named(wrong), metal_named(right)
    true = true_thickness(shown.si, told.density, metal.density, tooling_set, tooling)
    return Answer(
        {"thickness_m": true},
        f"{in_(shown.si, 'nm', 'length')} shown are {in_(true, 'nm', 'length')} of {metal.name}.",
        ("Set density and factor right before the next run.",),
    )
