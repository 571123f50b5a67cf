"""What a coat is once it lies there: closed or islands, its resistance, its heat."""

from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc.answers import (
    Answer,
    between,
    command,
    digits,
    metal_option,
    option,
    percent,
)
from troubleshoot.cli.measures import CURRENT, LENGTH, SECONDS

if TYPE_CHECKING:
    from troubleshoot.physics.film_growth import Surface
    from troubleshoot.units import Quantity

SPOT, RIM = 0.5e-6, 5e-3
"""m: where the beam lands, and the edge of a stub."""


@command("sheet-resistance")
@metal_option
@option("--thickness", LENGTH, "Thickness of the coat.")
@click.option(
    "--surface",
    type=click.Choice(["bare", "primed"]),
    default="bare",
    show_default=True,
    help="Glass or polymer as it is, or made so that metal wets it.",
)
@option("--probe-current", CURRENT, "Of the beam, to tell how far the top rises.", default="1nA")
def sheet_resistance(
    metal: str, thickness: "Quantity", surface: "Surface", probe_current: "Quantity"
) -> Answer:
    """Resistance of a square of a coat, if it is a closed film."""
    from troubleshoot.physics import film_resistance
    from troubleshoot.physics.film_growth import film_state, joined_chance
    from troubleshoot.physics.metals import metal_named

    kind = metal_named(metal)
    state = film_state(kind, thickness.si, surface)
    chance = joined_chance(kind, thickness.si, surface)
    values: dict[str, float | str | bool | None] = {
        "ohm_per_square": None,
        "low_ohm": None,
        "high_ohm": None,
        "film": state,
        "chance_joined": chance,
    }
    coat = f"{thickness.shown()} of {kind.name} on glass or polymer"
    if state == "islands":
        return Answer(
            values,
            f"{coat} are not a continuous film but islands: it does not conduct from end to end, "
            "and no resistance can be reckoned.",
        )
    ohm = film_resistance.sheet_resistance(kind, thickness.si)
    low, high = ohm / film_resistance.GOOD_TO, ohm * film_resistance.GOOD_TO
    values |= {"ohm_per_square": ohm, "low_ohm": low, "high_ohm": high}
    rise = film_resistance.top_potential(abs(probe_current.si), high, SPOT, RIM)
    values["rise_V"] = rise
    sure = "" if state == "joined" else f", if it has joined up (a chance of {percent(chance)})"
    return Answer(
        values,
        f"{coat} have about {digits(ohm)} ohm a square ({between(low, high, 'ohm', 'resistance')})"
        f"{sure}: with {probe_current.shown()} and a path to earth the top rises by less than "
        f"{digits(1.01e6 * rise)} microvolt.",
        ("A closed coat never charges for its resistance; islands, gaps and a missing path do.",),
    )


@command("heat")
@metal_option
@option("--thickness", LENGTH, "Thickness of the coat.", default="10nm")
@option("--time", SECONDS, "In what time.", default="60s")
def heat(metal: str, thickness: "Quantity", time: "Quantity") -> Answer:
    """How warm a coat makes a specimen, at most."""
    from troubleshoot.physics import coat_heat
    from troubleshoot.physics.limits import above_zero
    from troubleshoot.physics.metals import metal_named

    kind = metal_named(metal)
    above_zero(time=time.si)
    fluxes = [
        coat_heat.heat_flux(kind, thickness.si / time.si, e) for e in coat_heat.ENERGY_AN_ATOM
    ]
    rises = [coat_heat.radiative_rise(flux) for flux in fluxes]
    return Answer(
        {
            "flux_low_W_per_m2": fluxes[0],
            "flux_high_W_per_m2": fluxes[1],
            "rise_low_K": rises[0],
            "rise_high_K": rises[1],
        },
        f"{digits(fluxes[0])} to {digits(fluxes[1])} W/m2 arrive: a specimen that lies on nothing "
        f"that cools it gets warmer by {digits(rises[0])} to {digits(rises[1])} K after minutes, "
        "one on a metal stub by less.",
        (
            "Measured energies an atom differ fiftyfold, so feel the stub, and coat soft things in "
            "short runs.",
        ),
    )
