"""Densities, yields and the crystal against numbers that others published."""

import math

import pytest

from troubleshoot.physics.metals import metal_named
from troubleshoot.physics.quartz import weighed_thickness


def fitted_tungsten(energy):
    """Y(Ar to W) of a fit to computed yields, Eckstein in Sputtering by Particle Bombardment
    (2007), by the coefficients of db-amdis.org/pwidb/psi/datasets/455.
    """
    lam, q, mu, scale, threshold = 0.2113, 5.948, 2.386, 4.054e-6, 27.05
    eps = scale * energy
    w = eps + 0.1728 * math.sqrt(eps) + 0.008 * eps**0.1504
    stopping = 0.5 * math.log1p(1.2288 * eps) / w
    rise = (energy / threshold - 1) ** mu
    return q * stopping * rise / (lam / w + rise)


def test_the_fit_is_the_published_one():
    """Points of the table on that page."""
    for energy, published in ((202.3, 0.2732), (553.1, 0.593), (1082, 0.8239)):
        assert fitted_tungsten(energy) == pytest.approx(published, abs=2e-3)


def test_the_yield_of_tungsten_is_that_of_an_independent_fit():
    assert metal_named("tungsten").yield_500 == pytest.approx(fitted_tungsten(500), rel=0.25)


# At 600 eV: Maissel and Glang, Handbook of Thin Film Technology (1970), from memory.
AT_600 = {"silver": 3.4, "gold": 2.8, "palladium": 2.4, "platinum": 1.6, "chromium": 1.3,
          "iridium": 1.2, "tungsten": 0.6}  # fmt: skip


@pytest.mark.parametrize("name", AT_600)
def test_the_ratio_to_gold_hardly_moves_with_the_energy(name):
    ratio = metal_named(name).yield_500 / metal_named("gold").yield_500
    assert ratio == pytest.approx(AT_600[name] / AT_600["gold"], rel=0.12)


# nm in atoms per square centimetre, after the densities of the periodictable library 2.1.
ATOMS = {"gold": 5.90e15, "platinum": 6.62e15, "palladium": 6.80e15, "silver": 5.86e15,
         "chromium": 8.33e15, "iridium": 7.02e15, "tungsten": 6.32e15}  # fmt: skip


@pytest.mark.parametrize("name", ATOMS)
def test_a_nanometre_holds_so_many_atoms(name):
    metal = metal_named(name)
    per_square_cm = metal.density * 1e-9 / metal.molar_mass * 6.02214076e23 * 1e-4
    assert per_square_cm == pytest.approx(ATOMS[name], rel=0.01)


def test_a_crystal_of_5_mhz_weighs_17_7_nanogram():
    """17.7 ng per cm2 and Hz: Sauerbrey's constant at 5 MHz, as it is usually quoted."""
    layer = weighed_thickness(1, 5e6, 1000).value  # m of water's density
    assert layer * 1000 * 1e12 * 1e-4 == pytest.approx(17.7, rel=0.005)  # ng per cm2
