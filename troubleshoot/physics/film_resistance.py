"""What a closed coat resists, and how far its top rises above earth. Closed films only."""

import math

from troubleshoot.physics.limits import above_zero, fraction, within
from troubleshoot.physics.metals import Metal

REFLECTED = 0.35
"""Share of electrons that a grain boundary turns back; 0.1 to 0.45 for gold films (Sambles et al.,
abstract)."""
GOOD_TO = 2.0
"""Factor either way of a sheet resistance by this model, on a film that is closed: judgement."""
STEPS = 2000  # of the integral over the angle


def surface_factor(thickness_in_paths: float, specular: float = 0.0) -> float:
    """Resistivity of a film over that of the bulk, by electrons that meet its faces.

    rho/rho0 = 1 / (1 - 3 (1 - p) / (2 k) I), I the integral from 0 to 1 of
    (w - w^3) (1 - exp(-k/w)) / (1 - p exp(-k/w)) dw, k = thickness over mean free path, p the share
    reflected as by a mirror. Source: Fuchs (1938) and Sondheimer, Adv. Phys. 1 (1952) 1.

    >>> round(surface_factor(1.0), 3)
    1.462
    """
    above_zero(thickness_in_paths=thickness_in_paths)
    fraction(specular=specular)
    k, p = thickness_in_paths, specular
    total = 0.0
    for n in range(STEPS):
        w = (n + 0.5) / STEPS
        gone = math.exp(-k / w)
        total += (w - w**3) * (1 - gone) / (1 - p * gone)
    return 1 / (1 - 3 * (1 - p) / (2 * k) * total / STEPS)


def grain_factor(alpha: float) -> float:
    """Resistivity of a film over that of the bulk, by electrons that meet grain boundaries.

    rho/rho0 = 1 / (3 (1/3 - a/2 + a^2 - a^3 ln(1 + 1/a))), a = (path / grain) R / (1 - R); above
    a = 100 its limit 4 a / 3 + 16/15. Source: Mayadas and Shatzkes, Phys. Rev. B 1 (1970) 1382.

    >>> round(1 / grain_factor(1.0), 5)
    0.42056
    """
    above_zero(alpha=alpha)
    if alpha > 100:
        return 4 * alpha / 3 + 16 / 15  # the terms cancel to nothing there
    return 1 / (3 * (1 / 3 - alpha / 2 + alpha**2 - alpha**3 * math.log1p(1 / alpha)))


def film_resistivity(metal: Metal, thickness: float) -> float:
    """Resistivity in ohm m of a closed coat of a thickness in m.

    The extra of surfaces (none reflects) and of grains as wide as the film is thick (a third turned
    back), added; within a factor of two. Source: as `surface_factor` and `grain_factor`.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(film_resistivity(metal_named("gold"), 10e-9) * 1e8, 1)  # microohm cm
    11.9
    """
    above_zero(thickness=thickness)
    bulk = metal.conduction
    alpha = bulk.path / thickness * REFLECTED / (1 - REFLECTED)
    extra = surface_factor(thickness / bulk.path) + grain_factor(alpha) - 1
    return bulk.resistivity * extra


def sheet_resistance(metal: Metal, thickness: float) -> float:
    """Resistance in ohm of a square of a closed coat of a thickness in m; any size of square.

    Source: as `film_resistivity`, over the thickness.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(sheet_resistance(metal_named("gold"), 10e-9))
    12
    """
    return film_resistivity(metal, thickness) / thickness


def thickness_by_resistance(metal: Metal, resistance: float) -> float:
    """Thickness in m of a closed coat by the resistance in ohm of a square of it.

    Found by halving, from 0.5 nm to 1 um; raises `UserError` outside. Source: inverse of
    `sheet_resistance`.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(thickness_by_resistance(metal_named("gold"), 12) * 1e9)
    10
    """
    thin, thick = 0.5e-9, 1e-6
    within(
        sheet_resistance(metal, thick), sheet_resistance(metal, thin), "ohm",
        "no closed coat has it", resistance_of_a_square=resistance,
    )  # fmt: skip
    while thick / thin > 1.0001:
        middle = math.sqrt(thin * thick)
        if sheet_resistance(metal, middle) > resistance:
            thin = middle
        else:
            thick = middle
    return math.sqrt(thin * thick)


def top_potential(current: float, sheet: float, spot: float, rim: float) -> float:
    """Rise in V of the spot that takes up a current in A on a sheet earthed at its rim.

    I Rs / (2 pi) ln(r2 / r1), sheet resistance in ohm a square, radii of spot and rim in m. Source:
    spreading of a current in a sheet, textbook.

    >>> round(top_potential(1e-9, 1e9, 0.5e-6, 5e-3), 2)
    1.47
    """
    above_zero(current=current, sheet_resistance=sheet, radius_of_spot=spot)
    within(spot, math.inf, "m", "the rim lies outside the spot", radius_of_rim=rim)
    return current * sheet / (2 * math.pi) * math.log(rim / spot)
