"""Whether a coat is islands, a net, or a closed film: a probability by metal and thickness."""

import math
from statistics import NormalDist
from typing import Literal

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import above_zero
from troubleshoot.physics.metals import Metal

SURE = 0.9
"""Chance of being joined at the upper end of a metal's doubtful range, 1 - SURE at the lower."""
PRIMED = 0.5
"""On a surface that wets (silane or a seed of chromium under gold) half the thickness joins:
3 to 5.4 nm against 6 to 11 nm on bare silica (abstracts on ultra-thin gold films)."""

Surface = Literal["bare", "primed"]
State = Literal["islands", "doubtful", "joined"]


def joined_chance(metal: Metal, thickness: float, surface: Surface = "bare") -> float:
    """Probability that a coat of a thickness in m conducts from end to end on glass or polymer.

    The normal distribution of the logarithm that puts one in ten at the lower and nine in ten at
    the upper end of the metal's doubtful range; room temperature. Source: the ranges at
    `metals.Growth`; that they are read as one and nine in ten is judgement.

    >>> from troubleshoot.physics.metals import metal_named
    >>> [round(joined_chance(metal_named("gold"), t * 1e-9), 2) for t in (3, 7, 15)]
    [0.0, 0.49, 1.0]
    """
    above_zero(thickness=thickness)
    low, high = _doubtful(metal, surface)
    width = math.log(high / low) / (2 * NormalDist().inv_cdf(SURE))
    return NormalDist(math.log(math.sqrt(low * high)), width).cdf(math.log(thickness))


def film_state(metal: Metal, thickness: float, surface: Surface = "bare") -> State:
    """Islands (one in ten joined at most), joined (nine in ten) or doubtful; thickness in m.

    Source: as `joined_chance`.

    >>> from troubleshoot.physics.metals import metal_named
    >>> film_state(metal_named("platinum"), 5e-9)
    'joined'
    """
    above_zero(thickness=thickness)
    low, high = _doubtful(metal, surface)
    if thickness >= high:
        return "joined"
    return "doubtful" if thickness > low else "islands"


def joined_from(metal: Metal, surface: Surface = "bare") -> float:
    """Thickness in m from which a coat is joined in nine of ten cases.

    Source: as `joined_chance`.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(joined_from(metal_named("gold")) * 1e9)
    10
    """
    return _doubtful(metal, surface)[1]


def _doubtful(metal: Metal, surface: Surface) -> tuple[float, float]:
    if surface not in ("bare", "primed"):
        raise UserError(f"{surface!r} is no surface known here: use bare or primed.")
    factor = PRIMED if surface == "primed" else 1.0
    return metal.growth.islands * factor, metal.growth.joined * factor
