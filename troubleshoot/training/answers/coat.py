"""The settings of a recipe, and the coat that comes of them."""

import numpy as np

from troubleshoot.training.answers.bands import banded, yes
from troubleshoot.training.glow import PINK
from troubleshoot.training.observed import Observed


def pressure_set(at: Observed) -> str:
    return banded(at.plant.recipe.pressure, (0.8, 1.25), ("lower", "as_recipe", "higher"))


def current_set(at: Observed) -> str:
    return banded(at.plant.recipe.demand, (0.8, 1.25), ("lower", "as_recipe", "higher"))


def timer_check(at: Observed) -> str:
    return banded(at.plant.recipe.seconds, (0.9, 1.1), ("short", "right", "long"))


def distance(at: Observed) -> str:
    return banded(at.plant.recipe.distance, (0.9, 1.1), ("nearer", "as_recipe", "farther"))


def target_matches(at: Observed) -> str:
    return yes(at.plant.head.metal == at.sound.head.metal)


def dose(at: Observed) -> str:
    charge = float(np.mean(at.amps)) / at.usual_amps * at.plant.recipe.seconds
    return banded(charge, (0.8, 1.25), ("low", "as_recipe", "high"))


def slip_density(at: Observed) -> str:
    return banded(at.coat, (0.1, 0.7, 1.5), ("none", "lighter", "as_reference", "darker"))


def film_hue(at: Observed) -> str | None:
    if at.coat < 0.1:
        return None
    good = Observed(at.sound, at.sound, at.seed).air_share[1]
    return "brown_or_sooty" if at.air_share[1] > 2 * PINK + good else "metal_or_blue_tint"


def film_spread(at: Observed) -> str | None:
    if at.coat < 0.1:
        return None
    left, middle, right = at.spread
    if max(left, right) > 1.25 * min(left, right):
        return "one_side"
    return "centre_heavy" if middle > 1.4 * max(left, right) else "even"


def half_turn(at: Observed) -> str | None:
    """What stands beside the axis is fixed in the chamber, a tilt goes round with the stage."""
    if film_spread(at) is None:
        return None
    if film_spread(at) != "one_side":
        return "no_thin_side"
    return "goes_with_stage" if at.plant.recipe.tilt else "stays_in_chamber"
