"""What the coat does under the beam: whether it is closed, and whether it has a path to the stub.

A piece without a path takes up charge as a whole and throws the beam about; islands charge each for
itself, and flare (Goldstein et al., Scanning Electron Microscopy and X-Ray Microanalysis, 4th ed.,
2018, chapter on charging, from memory). The specimen is an insulator.
"""

from typing import Literal

from troubleshoot.physics.film_growth import joined_chance
from troubleshoot.physics.metals import metal_named
from troubleshoot.training.answers.bands import yes
from troubleshoot.training.observed import Observed

RECIPE = 12e-9
"""m that the recipe of the practice coater lays: judgement."""
BARE = 0.05
"""Share of the recipe below which nothing is there that could be called a coat."""
CLOSED = 0.5
"""Chance to conduct from end to end from which on a coat counts as closed."""

Picture = Literal["clean", "bands", "flare", "jumps"]


def closed(at: Observed) -> bool:
    """Whether the coat conducts from end to end."""
    metal = metal_named(at.plant.head.metal)
    return at.coat > BARE and joined_chance(metal, at.coat * RECIPE) >= CLOSED


def picture(at: Observed) -> Picture:
    """The kind of made micrograph (`training.micrograph`) that follows from the coat."""
    if at.coat <= BARE:
        return "bands"
    if not closed(at):
        return "flare"
    return "clean" if at.plant.recipe.grounded else "jumps"


def picture_shows(at: Observed) -> str:
    return picture(at)


def stripes_along_scan(at: Observed) -> str:
    return yes(picture(at) == "bands")


def changes_with_time(at: Observed) -> str:
    return yes(picture(at) != "clean")


def top_to_stub(at: Observed) -> str | None:
    if at.coat <= BARE:
        return None
    return "reads" if closed(at) and at.plant.recipe.grounded else "open"
