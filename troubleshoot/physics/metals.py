"""What a coat of one metal says of another: densities, sputter yields, rates and alloys."""

from collections.abc import Mapping
from dataclasses import dataclass

from troubleshoot.errors import UserError, nearest
from troubleshoot.physics.limits import above_zero


@dataclass(frozen=True)
class Metal:
    """A coating metal: density in kg/m3, molar mass in kg/mol, atoms sputtered per argon ion.

    Densities: CRC Handbook of Chemistry and Physics, from memory. Molar masses: IUPAC standard
    atomic weights. Yields at 500 eV and normal incidence: Laegreid and Wehner, J. Appl. Phys. 32
    (1961) 365, from memory; other published sets differ from them by a quarter.
    """

    name: str
    density: float
    molar_mass: float
    yield_500: float


METALS = (
    Metal("gold", 19300, 0.196967, 2.40),
    Metal("platinum", 21450, 0.195084, 1.40),
    Metal("palladium", 12020, 0.10642, 2.08),
    Metal("silver", 10500, 0.107868, 3.12),
    Metal("iridium", 22560, 0.192217, 1.01),
    Metal("chromium", 7190, 0.0519961, 1.18),
    Metal("tungsten", 19250, 0.18384, 0.57),
    Metal("titanium", 4506, 0.047867, 0.51),
    Metal("aluminium", 2700, 0.0269815, 1.05),
    Metal("copper", 8960, 0.063546, 2.35),
    Metal("nickel", 8908, 0.0586934, 1.45),
)
_BY_NAME = {metal.name: metal for metal in METALS}


def metal_named(name: str) -> Metal:
    """The metal called `name`; raises `UserError` for any other. Source: definition of the table.

    >>> metal_named("Gold").density
    19300
    """
    key = " ".join(name.lower().split())
    if key not in _BY_NAME:
        hint = nearest(key, list(_BY_NAME)) or f": use {', '.join(_BY_NAME)}"
        raise UserError(f"{name!r} is not a coating metal known here{hint}.")
    return _BY_NAME[key]


def relative_rate(metal: Metal, reference: Metal) -> float:
    """How fast a coat grows against one of a reference metal: (Y M / rho) / (Y0 M0 / rho0).

    Same coater, current, gas and distance, clean targets, yields at 500 eV of `Metal`; within about
    a quarter. Source: definition of the sputter yield, atoms per ion.

    >>> round(relative_rate(metal_named("platinum"), metal_named("gold")), 2)
    0.52
    """
    rate, base = (m.yield_500 * m.molar_mass / m.density for m in (metal, reference))
    return rate / base


def alloy_density(shares: Mapping[str, float]) -> float:
    """Density in kg/m3 of an alloy of metals by their shares of mass: sum(w) / sum(w / rho).

    Shares in any one unit. The volumes are taken to add up, which holds within some per cent.
    Source: balance of mass and volume.

    >>> round(alloy_density({"gold": 60, "palladium": 40}))
    15536
    """
    above_zero(**{name.replace(" ", "_"): share for name, share in shares.items()})
    volume = sum(share / metal_named(name).density for name, share in shares.items())
    return sum(shares.values()) / volume
