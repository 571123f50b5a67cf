"""The coating metals: what of each decides rate, growth and resistance of its coats."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from troubleshoot.errors import UserError, nearest
from troubleshoot.physics.elements import element_named
from troubleshoot.physics.limits import above_zero

NM = 1e-9
MICRO_OHM_CM = 1e-8


@dataclass(frozen=True)
class Sputtered:
    """What the fit of sputter yields needs: binding energy of the surface in eV, Q, W and s.

    Yamamura and Tawara, At. Data Nucl. Data Tables 62 (1996) 149, table I.
    """

    binding: float
    q: float
    w: float
    s: float


@dataclass(frozen=True)
class Growth:
    """How a coat of a metal grows on glass or polymer at room temperature, in m.

    Below `islands` it is hardly ever joined, above `joined` nearly always; `grain` is how wide its
    grains usually are. Gold: Siegel et al., Nanoscale Res. Lett. 6 (2011) 96, and Ruffino et al.,
    Appl. Phys. A 103 (2011) 939; palladium: insulating at 2 nm, metallic above 4 nm (granular
    nanofilms, arXiv); chromium: Scanning Microscopy 8 (1994). The rest, and all grains: common
    practice, no source, from memory.
    """

    islands: float
    joined: float
    grain: tuple[float, float]


@dataclass(frozen=True)
class Conduction:
    """Resistivity of the bulk in ohm m and mean free path of its electrons in m.

    From memory: Gall, J. Appl. Phys. 119 (2016) 085101, for gold, platinum, silver, copper,
    aluminium, tungsten, iridium and nickel; the others are judgement.
    """

    resistivity: float
    path: float


@dataclass(frozen=True)
class Metal:
    """A coating metal: density in kg/m3 and molar mass in kg/mol, of an alloy its mean.

    `parts` are an alloy's metals by share of atoms; of one metal it is empty.
    """

    name: str
    density: float
    molar_mass: float
    growth: Growth
    conduction: Conduction
    sputtered: Sputtered | None = None
    number: int = 0
    parts: Mapping[str, float] = field(default_factory=dict)


# eV, Q, W, s; nm: islands below, joined above, grains from and to; microohm cm, nm.
_ROWS = {
    "gold": ((3.81, 1.08, 1.64, 2.8), (5, 10, 5, 15), (2.214, 37.7)),
    "platinum": ((5.84, 1.03, 3.21, 2.5), (1.5, 3, 2, 4), (10.6, 7.8)),
    "palladium": ((3.89, 0.85, 1.36, 2.5), (2, 4, 3, 6), (10.5, 10)),
    "silver": ((2.95, 1.08, 1.03, 2.8), (6, 14, 8, 25), (1.587, 53.3)),
    "iridium": ((6.94, 0.96, 2.43, 2.5), (1.5, 3, 1, 2), (4.7, 7.1)),
    "chromium": ((4.10, 0.93, 1.44, 2.5), (1, 2, 1, 2), (12.5, 12)),
    "tungsten": ((8.90, 0.72, 2.14, 2.8), (1, 2.5, 1, 2), (5.28, 15.5)),
    "titanium": ((4.85, 0.54, 2.57, 2.5), (1.5, 4, 2, 5), (42, 3)),
    "aluminium": ((3.39, 1.00, 2.17, 2.5), (4, 10, 10, 30), (2.65, 18.9)),
    "copper": ((3.49, 1.00, 0.73, 2.5), (3, 8, 5, 15), (1.678, 39.9)),
    "nickel": ((4.44, 0.94, 1.33, 2.5), (2, 5, 3, 8), (6.93, 5.9)),
}
# Alloys of the trade: shares of mass, then as above without the yield.
_ALLOYS = {
    "gold-palladium": ({"gold": 60, "palladium": 40}, (3, 6, 3, 8), (30, 5)),
    "platinum-palladium": ({"platinum": 80, "palladium": 20}, (1.5, 3, 2, 4), (25, 5)),
}


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


def _grown(growth: tuple[float, ...], conduction: tuple[float, ...]) -> tuple[Growth, Conduction]:
    islands, joined, fine, coarse = (n * NM for n in growth)
    resistivity, path = conduction
    return (
        Growth(islands, joined, (fine, coarse)),
        Conduction(resistivity * MICRO_OHM_CM, path * NM),
    )


def _pure(name: str) -> Metal:
    fit, growth, conduction = _ROWS[name]
    element = element_named(name)
    return Metal(
        name, element.density, element.molar_mass, *_grown(growth, conduction),
        Sputtered(*fit), element.number,
    )  # fmt: skip


def _alloy(name: str) -> Metal:
    shares, growth, conduction = _ALLOYS[name]
    moles = {part: share / _BY_NAME[part].molar_mass for part, share in shares.items()}
    atoms = {part: n / sum(moles.values()) for part, n in moles.items()}
    mass = sum(share * _BY_NAME[part].molar_mass for part, share in atoms.items())
    return Metal(name, alloy_density(shares), mass, *_grown(growth, conduction), parts=atoms)


def metal_named(name: str) -> Metal:
    """The metal of that name or symbol; raises `UserError` for any other. Source: the table.

    >>> metal_named("Gold").density, metal_named("Pt").name
    (19300.0, 'platinum')
    """
    key = " ".join(name.lower().replace("_", " ").split()).replace(" ", "-")
    key = _SHORT.get(key, key)
    if key not in _BY_NAME:
        hint = nearest(key, list(_BY_NAME)) or f": use {', '.join(_BY_NAME)}"
        raise UserError(f"{name!r} is not a coating metal known here{hint}.")
    return _BY_NAME[key]


_SHORT = {element_named(name).symbol.lower(): name for name in _ROWS} | {
    "aluminum": "aluminium",
    "au-pd": "gold-palladium",
    "pt-pd": "platinum-palladium",
}
_BY_NAME = {name: _pure(name) for name in _ROWS}
_BY_NAME |= {name: _alloy(name) for name in _ALLOYS}
METALS = tuple(_BY_NAME.values())
