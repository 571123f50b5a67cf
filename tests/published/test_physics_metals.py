"""Densities and the crystal against numbers that others published."""

import pytest

from troubleshoot.physics.metals import metal_named
from troubleshoot.physics.quartz import weighed_thickness

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
