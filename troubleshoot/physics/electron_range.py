"""How deep the electrons of a beam get."""

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import within
from troubleshoot.physics.materials import Material

LOWEST, JOIN, HIGHEST = 500.0, 5e3, 50e3
"""eV: from LOWEST to JOIN the one fit, from there to HIGHEST the other."""
COMPOUND = 1.7
"""By how much a fit with means of atomic number may be too deep."""


def deep_range(material: Material, energy: float) -> float:
    """Range in m of electrons of an energy in eV, 5 to 50 keV: 0.0276 A E^1.67 / (Z^0.89 rho).

    In um, g/mol, keV and g/cm3; of compounds with Z and A as means by mass, and then some 25 %
    above the range along the path. Raises `UserError` outside. Source: Kanaya and Okayama,
    J. Phys. D 5 (1972) 43, in the form of Goldstein et al., Scanning Electron Microscopy and X-ray
    Microanalysis, 3rd ed. (2003).

    >>> from troubleshoot.physics.materials import material_named
    >>> round(deep_range(material_named("copper"), 30e3) * 1e6, 3)
    2.877
    """
    within(JOIN, HIGHEST, "eV", "this fit of the range holds there only", beam_energy=energy)
    mass, density = material.molar_mass * 1e3, material.density / 1e3
    micron = 0.0276 * mass * (energy / 1e3) ** 1.67 / (material.number**0.89 * density)
    return micron * 1e-6


def shallow_range(material: Material, energy: float) -> float:
    """Range in m of electrons of an energy in eV, 0.5 to 5 keV: k E^n / rho.

    k = 43.04 + 1.5 Z + 5.4e-3 Z^2, n = 1.755 - 7.4e-3 Z + 3e-5 Z^2, in nm, keV and g/cm3, fitted to
    Monte Carlo paths; of compounds with Z as mean by mass. Raises `UserError` outside. Source:
    Hovington, Drouin, Gauvin and Joy, Microsc. Microanal. 3, suppl. 2 (1997) 885.

    >>> from troubleshoot.physics.materials import material_named
    >>> round(shallow_range(material_named("gold"), 1e3) * 1e9, 1)
    10.1
    """
    within(LOWEST, JOIN, "eV", "this fit of the range holds there only", beam_energy=energy)
    z = material.number
    k = 43.04 + 1.5 * z + 5.4e-3 * z**2
    n = 1.755 - 7.4e-3 * z + 3e-5 * z**2
    return k * (energy / 1e3) ** n / (material.density / 1e3) * 1e-9


def range_bounds(material: Material, energy: float) -> tuple[float, float]:
    """Bounds in m of the range of electrons of an energy in eV: 30 % either way in an element.

    In a compound rich in hydrogen the fits get up to half too deep, deeper than the whole path of
    the electrons, so the lower bound is wider. Source: comparison with NIST ESTAR; the upper bounds
    are judgement.

    >>> from troubleshoot.physics.materials import material_named
    >>> low, high = range_bounds(material_named("polyethylene"), 10e3)
    >>> round(low * 1e6, 1), round(high * 1e6, 1)
    (2.0, 4.3)
    """
    depth = electron_range(material, energy)
    return depth / (COMPOUND if material.insulates else 1.3), depth * 1.3


def electron_range(material: Material, energy: float) -> float:
    """Range in m of electrons of an energy in eV, 0.5 to 50 keV, in a solid; see `range_bounds`.

    Below 5 keV `shallow_range`, from there on `deep_range`; they meet within a quarter. Raises
    `UserError` outside. Source: as these two.

    >>> from troubleshoot.physics.materials import material_named
    >>> round(electron_range(material_named("PMMA"), 20e3) * 1e6, 1)
    8.4
    """
    if not LOWEST <= energy <= HIGHEST:
        raise UserError(
            f"There is no formula for the range of electrons of {energy / 1e3:g} keV here: give "
            f"{LOWEST / 1e3:g} to {HIGHEST / 1e3:g} keV."
        )
    return (shallow_range if energy < JOIN else deep_range)(material, energy)
