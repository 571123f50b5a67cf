"""Metals and the crystal by a second way to the same number, and what the rules say of them."""

import re

import pytest

from troubleshoot.errors import UserError
from troubleshoot.physics import metals, quartz
from troubleshoot.physics.metals import alloy_density, metal_named
from troubleshoot.physics.sputtering import relative_rate


def test_one_over_the_other_and_back_is_one():
    for a in metals.METALS:
        for b in metals.METALS:
            assert relative_rate(a, b) * relative_rate(b, a) == pytest.approx(1)


def test_a_thick_film_is_noted():
    assert quartz.weighed_thickness(6e4, 6e6, 19300).notes == ()
    assert quartz.weighed_thickness(6e5, 6e6, 19300).notes


def test_the_wrong_density_is_a_wrong_mass():
    """The crystal weighs the same either way: thickness times density."""
    true = quartz.true_thickness(10e-9, 19300, 7190)
    assert true * 7190 == pytest.approx(10e-9 * 19300)


def test_densities_that_the_rules_name_are_these(rules):
    said = rules.findings["monitor_metal_set"].looks["no"]
    names = {"gold": 19.3, "platinum": 21.45, "chromium": 7.2}
    for name, density in names.items():
        assert re.search(rf"\b{name} {density}\b", said)
        assert metal_named(name).density / 1000 == pytest.approx(density, abs=0.06)
    assert "60 to 40 about 15.5" in said
    assert alloy_density({"gold": 60, "palladium": 40}) / 1000 == pytest.approx(15.5, abs=0.05)


def test_platinum_comes_half_as_fast_as_the_rules_say(rules):
    assert "about half as fast as gold" in rules.findings["dose"].looks["low"]
    ratio = relative_rate(metal_named("platinum"), metal_named("gold"))
    assert ratio == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize(
    ("formula", "values"),
    [
        (metal_named, ("unobtainium",)),
        (alloy_density, ({"gold": -1},)),
        (alloy_density, ({"gold": 1, "mud": 1},)),
        (quartz.weighed_thickness, (0, 6e6, 19300)),
        (quartz.true_thickness, (1e-9, 0, 1)),
    ],
)
def test_what_cannot_be_is_refused_in_one_sentence(formula, values):
    with pytest.raises(UserError) as refused:
        formula(*values)
    assert "\n" not in str(refused.value)
