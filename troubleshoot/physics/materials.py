"""What specimens are made of: density, mean atomic number, crossover energies, resistivity."""

import re
from dataclasses import dataclass

from troubleshoot.errors import UserError, nearest
from troubleshoot.physics.elements import ELEMENTS, Element, element_named

POLYMERS = (100.0, 2000.0)
"""eV between which the crossovers of polymers lie (EMSA abstract, 10.1017/s0424820100144772)."""


@dataclass(frozen=True)
class Crossover:
    """Energies in eV at which as many electrons leave as arrive, at normal incidence.

    `e1` and `e2` are None where they are not known; `low` and `high` are the bounds of `e2`, None
    where there is none, and zero where no energy reaches a yield of one. `peak`
    of a metal: height of its yield, and the energy in eV where it lies.
    """

    e1: float | None
    e2: float | None
    low: float
    high: float | None
    source: str
    peak: tuple[float, float] | None = None


@dataclass(frozen=True)
class Material:
    """A specimen's material: density in kg/m3, mean atomic number and molar mass by mass (kg/mol).

    `crossover` where one is known, `insulates` whether it holds a charge, `resistivity` in ohm m
    from and to, and the relative permittivity of an insulator.
    """

    name: str
    density: float
    number: float
    molar_mass: float
    insulates: bool = False
    crossover: Crossover | None = None
    resistivity: tuple[float, float] | None = None
    permittivity: float | None = None


# Source of the two kinds of crossover: tables, from memory, with how far they may be wrong.
_TABLE = (
    "Goldstein et al., Scanning Electron Microscopy and X-ray Microanalysis, 3rd ed. (2003), table "
    "of upper crossover energies, from memory",
    0.3,
)
_DATABASE = ("collections of measured yields (Joy; Reimer) and practice, from memory", 0.5)
_BOUNDS = ("polymers as a class: EMSA abstract, doi 10.1017/s0424820100144772", None)

# name: formula, g/cm3, keV, its source, ohm m from and to (powers of ten), permittivity.
# Resistivities: polymers 1e15 to 1e20 ohm cm (application note on insulating spheres); the others
# handbooks, from memory. Formulas of natural materials are means of their kind.
_INSULATORS = {
    "pmma": ("C5H8O2", 1.19, 1.6, _DATABASE, (13, 17), 3),
    "polystyrene": ("C8H8", 1.05, 1.3, _DATABASE, (13, 18), 2.6),
    "polyethylene": ("C2H4", 0.92, 1.5, _DATABASE, (13, 18), 2.3),
    "polycarbonate": ("C16H14O3", 1.2, 1.9, _DATABASE, (13, 17), 3),
    "nylon": ("C6H11NO", 1.14, 1.18, _TABLE, (11, 15), 4),
    "acetal": ("CH2O", 1.41, 1.65, _TABLE, (12, 16), 3.7),
    "pvc": ("C2H3Cl", 1.38, 1.65, _TABLE, (12, 16), 3.3),
    "ptfe": ("C2F4", 2.2, 1.82, _TABLE, (15, 18), 2.1),
    "polyimide": ("C22H10N2O5", 1.42, 0.4, _TABLE, (14, 17), 3.4),
    "pet": ("C10H8O4", 1.38, None, _BOUNDS, (13, 17), 3.2),
    "polypropylene": ("C3H6", 0.9, None, _BOUNDS, (13, 18), 2.2),
    "rubber": ("C5H8", 0.95, None, _BOUNDS, (11, 15), 3),
    "silicone": ("C2H6OSi", 0.97, None, _BOUNDS, (12, 14), 2.8),
    "epoxy": ("C21H25ClO5", 1.2, 1.1, _DATABASE, (11, 15), 4),
    "cellulose": ("C6H10O5", 1.5, None, _BOUNDS, (9, 13), 6),
    "chitin": ("C8H13NO5", 1.4, 0.75, _DATABASE, (9, 13), 5),
    "dried tissue": ("C44H69N11O13S", 1.3, 0.75, _DATABASE, (9, 13), 5),
    "wax": ("C25H52", 0.9, None, _BOUNDS, (13, 17), 2.3),
    "quartz": ("SiO2", 2.65, 3.0, _TABLE, (14, 17), 3.9),
    "glass": ("SiO2", 2.5, 2.5, _DATABASE, (9, 13), 7),
    "opal": ("SiO3H2", 2.1, 2.5, _DATABASE, (9, 13), 5),
    "mica": ("KAl3Si3O12H2", 2.8, 2.5, _DATABASE, (11, 15), 6),
    "alumina": ("Al2O3", 3.97, 4.2, _TABLE, (10, 14), 9.8),
    "gallium arsenide": ("GaAs", 5.32, 2.6, _TABLE, None, None),
    "calcite": ("CaCO3", 2.71, None, None, (9, 13), 8),
    "apatite": ("Ca5P3O13H", 3.16, None, None, (9, 13), 12),
    "diamond": ("C", 3.51, None, None, (9, 14), 5.7),
    "ice": ("H2O", 0.92, None, None, None, 3.2),
    "salt": ("NaCl", 2.16, None, None, (8, 14), 5.9),
}
# Handbook values: E1, E2 in eV (None: only "above" the next), peak of the yield and its energy;
# of platinum, nickel, tungsten and silicon from memory.
_HANDBOOK = "CRC Handbook of Chemistry and Physics, secondary electron emission"
_ELEMENTS: dict[str, tuple[float, float | None, float, float, float]] = {
    "gold": (150, None, 2000, 1.4, 800),
    "silver": (200, None, 2000, 1.5, 800),
    "copper": (200, 1500, 0, 1.3, 600),
    "iron": (120, 1400, 0, 1.3, 400),
    "molybdenum": (150, 1200, 0, 1.25, 375),
    "niobium": (150, 1050, 0, 1.2, 375),
    "boron": (50, 600, 0, 1.2, 150),
    "platinum": (350, 3000, 0, 1.8, 700),
    "nickel": (150, None, 1500, 1.3, 550),
    "tungsten": (250, None, 1500, 1.4, 650),
    "silicon": (125, 500, 0, 1.1, 250),
    "germanium": (150, 900, 0, 1.15, 500),
}
_NEVER_ABOVE_ONE = {"carbon": (1.0, 300.0)}
"""Handbook peaks of yields that do not exceed one: no energy leaves a positive charge."""
_DIAMOND_ABOVE = 5000.0
"""eV: the handbook's bound of diamond's upper crossover."""
HANDBOOK_WITHIN = 0.3
"""Share by which the handbook's crossovers may be off on a real, dirty surface: judgement."""
_ALSO = {
    "acrylic": "pmma", "polythene": "polyethylene", "polyamide": "nylon", "pp": "polypropylene",
    "pe": "polyethylene", "ps": "polystyrene", "pc": "polycarbonate", "polyester": "pet",
    "pom": "acetal", "pdms": "silicone", "resin": "epoxy", "epoxy resin": "epoxy",
    "silica": "quartz", "sio2": "quartz", "silicon dioxide": "quartz", "al2o3": "alumina",
    "caco3": "calcite", "nacl": "salt", "bone": "apatite", "diatom": "opal",
    "tissue": "dried tissue", "biological": "dried tissue", "insect": "chitin",
    "paper": "cellulose", "cotton": "cellulose", "wood": "cellulose",
    "gaas": "gallium arsenide", "sapphire": "alumina", "graphite": "carbon",
}  # fmt: skip


def _parsed(formula: str) -> list[tuple[Element, int]]:
    parts = re.findall(r"([A-Z][a-z]?)([0-9]*)", formula)
    return [(element_named(symbol), int(count or 1)) for symbol, count in parts]


def _insulator(name: str) -> Material:
    formula, density, energy, said, powers, permittivity = _INSULATORS[name]
    atoms = _parsed(formula)
    mass = sum(e.molar_mass * n for e, n in atoms)
    weights = [(e, e.molar_mass * n / mass) for e, n in atoms]
    crossover = None
    if said is _BOUNDS:
        crossover = Crossover(None, None, *POLYMERS, said[0])
    elif energy is not None and said is not None and said[1] is not None:
        e2, off = 1000 * energy, said[1]
        e1 = 44.0 if name == "polycarbonate" else None  # measured, thesis, hdl 2346/16311
        crossover = Crossover(e1, e2, e2 * (1 - off), e2 * (1 + off), said[0])
    if name == "diamond":
        crossover = Crossover(None, None, _DIAMOND_ABOVE, None, _HANDBOOK)
    return Material(
        name.upper() if name in _SHORT else name,
        density * 1000,
        sum(e.number * w for e, w in weights),
        sum(e.molar_mass * w for e, w in weights),
        True,
        crossover,
        (10.0 ** powers[0], 10.0 ** powers[1]) if powers else None,
        permittivity,
    )


def _element(element: Element) -> Material:
    crossover = None
    if element.name in _ELEMENTS:
        e1, e2, above, most, peak = _ELEMENTS[element.name]
        off = HANDBOOK_WITHIN
        low = above if e2 is None else e2 * (1 - off)
        high = None if e2 is None else e2 * (1 + off)
        crossover = Crossover(e1, e2, low, high, _HANDBOOK, (most, peak))
    elif element.name in _NEVER_ABOVE_ONE:
        crossover = Crossover(None, None, 0, 0, _HANDBOOK, _NEVER_ABOVE_ONE[element.name])
    return Material(
        element.name, element.density, element.number, element.molar_mass, crossover=crossover
    )


_SHORT = ("pmma", "pvc", "ptfe", "pet")
"""Names that are short for longer ones."""

SPECIMENS = tuple(_INSULATORS)
"""Names of the specimen materials, beside the elements."""


def material_named(name: str) -> Material:
    """A specimen material or an element by name or symbol; raises `UserError` for any other.

    Mean atomic number and molar mass by mass of the elements. Source: the tables.

    >>> pmma = material_named("PMMA")
    >>> round(pmma.number, 2), round(pmma.molar_mass * 1000, 1)
    (6.24, 12.4)
    """
    key = " ".join(name.lower().replace("_", " ").split())
    key = _ALSO.get(key, key)
    if key in _INSULATORS:
        return _insulator(key)
    try:
        return _element(element_named(key))
    except UserError:
        hint = nearest(key, [*_INSULATORS, *_ALSO, *(e.name for e in ELEMENTS)])
        listed = hint or f": use an element, or {', '.join(SPECIMENS)}"
        raise UserError(f"{name!r} is no material known here{listed}.") from None
