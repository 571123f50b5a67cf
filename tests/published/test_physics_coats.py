"""Coats, sizes and stray fields against numbers that others have published."""

import math

import pytest

from troubleshoot.physics.beam import field_shift, gyroradius
from troubleshoot.physics.coats import porosity_left, small_source_coat

NM, MM = 1e-9, 1e-3
GAUSS = 1e-4


@pytest.mark.parametrize(("length", "thickness"), [(0.4, 2.5), (0.8, 5), (1.5, 9.5), (2.0, 12.5)])
def test_carbon_of_a_necked_rod(length, thickness):
    """A neck of 0.5 mm radius burnt off at 100 mm: table for a rod shaper, 0.4 to 2 mm of neck."""
    neck = math.pi * (0.5 * MM) ** 2 * length * MM
    assert small_source_coat(neck, 100 * MM) / NM == pytest.approx(thickness, rel=0.02)


def test_porosity_of_a_coated_membrane():
    """12.9 % with 1.5 nm of platinum and 5.8 % with 5 nm; bare 23 %, three times that with 4 nm.

    The first two give the width of the pores; the third was not used for it.
    """
    left = math.sqrt(5.8 / 12.9)
    pore = (2 * 5 - left * 2 * 1.5) / (1 - left)
    at_thin = porosity_left(1.0, pore, 1.5)
    assert 12.9 * porosity_left(1.0, pore, 4) / at_thin == pytest.approx(23 / 3, rel=0.05)


def test_stray_fields_of_one_to_twenty_milligauss_spoil_pictures():
    """Dunnam's limits: shifts of a fine probe to some hundred of them, at 10 kV over 10 mm."""
    assert field_shift(10e3, 1e-3 * GAUSS, 10 * MM) / NM == pytest.approx(15, rel=0.02)
    assert field_shift(10e3, 20e-3 * GAUSS, 10 * MM) / NM == pytest.approx(300, rel=0.02)


def test_radius_of_an_electron_in_a_field():
    """2.38 sqrt(T) / B in cm, eV and gauss, for the speed sqrt(kT/m): half a kT of energy."""
    for volts, tesla in ((1000, 3.16e-3), (15_000, 5e-5)):
        formulary = 2.38e-2 * math.sqrt(2 * volts) / (tesla / GAUSS)
        assert gyroradius(volts, tesla) == pytest.approx(formulary, rel=2e-3)
