"""Sizes, drops and a bent beam against an independent way to the same number."""

import math

import numpy as np
import pytest
from scipy.integrate import trapezoid

from troubleshoot.errors import UserError
from troubleshoot.physics import beam, coats


@pytest.mark.parametrize("angle", [12, 45, 90, 120])
def test_a_drop_holds_its_volume_when_it_is_cut_into_slices(angle):
    """Discs of the sphere summed from the foot to the top."""
    width = coats.drop_width(2e-9, angle)
    height = width / 2 * math.tan(math.radians(angle / 2))
    assert coats.contact_angle(height, width) == pytest.approx(angle)
    radius = (width / 2) / math.sin(math.radians(angle))
    z = np.linspace(0, height, 20_001)
    discs = math.pi * (radius**2 - (z - height + radius) ** 2)
    assert trapezoid(discs, z) == pytest.approx(2e-9, rel=1e-4)


def test_pores_close_and_stay_closed():
    assert coats.porosity_left(0.2, 8e-9, 4e-9) == 0
    assert coats.porosity_left(0.2, 8e-9, 40e-9) == 0
    assert coats.porosity_left(0.2, 8e-9, 0) == 0.2


def test_a_wire_and_the_coat_on_it_are_the_whole():
    """Measured 100 nm with 10 nm on either side: a fifth of it is coat."""
    assert coats.coat_share(100 - 2 * 10, 10) == pytest.approx(0.2)


def test_what_a_small_source_lays_on_a_sphere_is_what_it_lost():
    volume = coats.small_source_coat(3e-9, 0.12) * 4 * math.pi * 0.12**2
    assert volume == pytest.approx(3e-9)


def test_the_beam_is_bent_as_an_integrated_orbit_is():
    """Steps along the path with the force e v B, against the parabola."""
    volts, field, path = 5000.0, 2e-7, 0.02
    speed = math.sqrt(2 * beam.ELEMENTARY_CHARGE * volts / beam.ELECTRON_MASS)
    turn = beam.ELEMENTARY_CHARGE * field / beam.ELECTRON_MASS
    steps = 20_000
    angle = turn * path / speed * (np.arange(steps) + 0.5) / steps
    assert beam.field_shift(volts, field, path) == pytest.approx(
        float(np.sin(angle).sum()) * path / steps, rel=1e-6
    )


@pytest.mark.parametrize(
    ("formula", "values"),
    [
        (coats.coat_share, (0, 1)),
        (coats.porosity_left, (1.2, 1, 1)),
        (coats.foreshortened, (1, 90)),
        (coats.small_source_coat, (1, -1)),
        (coats.contact_angle, (-1, 1)),
        (coats.drop_width, (1, 180)),
        (beam.field_shift, (1000, 0, 1)),
    ],
)
def test_what_cannot_be_is_refused(formula, values):
    with pytest.raises(UserError):
        formula(*values)
