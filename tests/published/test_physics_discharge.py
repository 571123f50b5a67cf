"""Breakdown voltage and glow similarity against published numbers."""

import pytest

from troubleshoot.physics.discharge import (
    GAMMA_HIGH,
    GAMMA_LOW,
    TORR_CM,
    breakdown_band,
    dark_space,
    easiest_pressures,
    paschen_minimum,
    paschen_voltage,
    same_voltage_current,
)
from troubleshoot.units import to_si


@pytest.mark.parametrize(("pd", "volts"), [(10, 371.44065672), (20, 623.89600615)])
def test_paschen_arithmetic(pd, volts):
    # Published code example, citing Nasser, Fundamentals of Gaseous Ionization and Plasma
    # Electronics (1971) for A 11 /(Pa m) and B 135 V/(Pa m), Beroual and Fofana (2016) for gamma
    # 0.058.
    assert paschen_voltage(pd, 11, 135, 0.058) == pytest.approx(volts, rel=1e-9)


def test_paschen_minimum_arithmetic():
    # The same example: 96.859 V at 0.71748 Pa m, with e rounded to 2.718.
    voltage, pd = paschen_minimum(11, 135, 0.058)
    assert voltage == pytest.approx(96.859, rel=2e-4)
    assert pd == pytest.approx(0.71748, rel=2e-4)


def test_argon_minimum_by_tabulated_coefficients():
    # Lieberman and Lichtenberg, 2nd ed., table 14.1: argon 11.5 /(Torr cm), 176 V/(Torr cm). With
    # gamma 0.01 the arithmetic gives 192.0 V at 1.091 Torr cm.
    voltage, pd = paschen_minimum(11.5 / TORR_CM, 176 / TORR_CM, 0.01)
    assert voltage == pytest.approx(192.0, rel=1e-3)
    assert pd / TORR_CM == pytest.approx(1.091, rel=1e-3)


@pytest.mark.parametrize(("torr_cm", "volts"), [(1, 192.8), (2, 219.2), (5, 348.9)])
def test_argon_curve_by_tabulated_coefficients(torr_cm, volts):
    # The same coefficients and gamma, by hand.
    assert paschen_voltage(torr_cm, 11.5, 176, 0.01) == pytest.approx(volts, rel=5e-4)


@pytest.mark.parametrize(("gamma", "volts"), [(0.01, 188.37), (0.07, 121.48)])
def test_argon_at_one_torr_cm(gamma, volts):
    # A plasma library (plasma-plots 0.2.5) with Raizer's coefficients 12 and 180.
    assert paschen_voltage(1, 12, 180, gamma) == pytest.approx(volts, rel=1e-4)


def test_surfaces_in_the_band():
    # Beroual and Fofana (2016) for argon ions: aluminium 0.12, copper, nickel, platinum and iron
    # 0.058.
    assert GAMMA_LOW < 0.058 < GAMMA_HIGH == 0.12


@pytest.mark.parametrize(("a", "b", "volts"), [(11.5, 176, 167), (12, 180, 154)])
def test_a_coater_left_of_the_minimum(a, b, volts):
    # By hand: 0.1 mbar across 5 cm is 0.375 Torr cm; platinum's gamma of 0.058 gives 167 or 154 V,
    # and 0.01 no breakdown at all.
    pd = to_si(0.1, "mbar", "pressure") * 0.05 / TORR_CM
    assert pd == pytest.approx(0.375, rel=1e-3)
    assert paschen_voltage(pd, a, b, 0.058) == pytest.approx(volts, rel=5e-3)
    assert paschen_voltage(pd, a, b, 0.01) is None
    band = breakdown_band("argon", 10, 0.05)
    assert band.low < volts
    assert band.high is None


def test_coaters_run_above_the_lower_edge():
    # University wiki at thunder.biosci.umbc.edu/emsuite: a specimen coater runs at 0.8 kV and
    # 50 mm in 0.05 to 0.1 mbar of argon. At 0.1 mbar the band allows that; at 0.05 the law asks for
    # more, and the note says that a discharge may strike below the band.
    assert breakdown_band("argon", 10, 0.05).low < 800
    thin = breakdown_band("argon", 5, 0.05)
    assert thin.low < 800 or "strike below this band" in thin.notes[-1]


@pytest.mark.parametrize(
    ("gas", "torr_cm"),
    [("air", 0.567), ("argon", 0.9), ("nitrogen", 0.67), ("hydrogen", 1.15)],
)
def test_the_easiest_pressure_is_near_the_measured_minimum(gas, torr_cm):
    # Naidu, High Voltage Engineering, p. 27, as quoted by a plasma library; within 25 %.
    low, high = easiest_pressures(gas, 0.01)
    assert 0.75 * low < torr_cm * TORR_CM / 0.01 < 1.25 * high


@pytest.mark.parametrize(
    ("gas", "sets"),
    [
        # A in 1/(Torr cm), B in V/(Torr cm): Lieberman and Lichtenberg, 2nd ed., table 14.1, then
        # Raizer, Gas Discharge Physics (1991).
        ("argon", ((11.5, 176), (12, 180))),
        ("nitrogen", ((11.8, 325), (12, 342))),
        ("helium", ((2.8, 77), (3, 34))),
        ("hydrogen", ((4.8, 136), (5, 130))),
        ("air", ((15, 365),)),
    ],
)
def test_the_band_spans_both_tables(gas, sets):
    torr_cm = 5.0
    band = breakdown_band(gas, to_si(torr_cm, "Torr", "pressure"), 0.01)
    easy = [paschen_voltage(torr_cm, a, b, 0.12) for a, b in sets]
    hard = [paschen_voltage(torr_cm, a, b, 0.01) for a, b in sets]
    assert band.low == pytest.approx(min(easy), rel=1e-9)
    assert band.high == pytest.approx(max(hard), rel=1e-9)


def test_air_at_one_atmosphere_and_a_millimetre():
    # Documented example of a plasma library (plasma-plots 0.2.5) after Raizer (1991): air 15, 365,
    # gamma 0.01: 5035 V, the upper edge of our band.
    band = breakdown_band("air", 101325, 1e-3)
    assert band.high == pytest.approx(5035, rel=1e-3)


def test_air_coefficients_per_kilopascal():
    # vcalc.com/wiki/EmilyB/Paschen%27s+Law: A 112.501 /(kPa cm), B 2737.50 V/(kPa cm) are the same
    # 15 and 365 in other units.
    voltage = paschen_voltage(100, 112.501 / 10, 2737.50 / 10, 0.01)
    ours = breakdown_band("air", 100 / 1e-3, 1e-3).high
    assert ours == pytest.approx(voltage, rel=1e-3)


@pytest.mark.parametrize(
    ("gas", "volts", "torr_cm"),
    [
        ("air", 327, 0.567),
        ("argon", 137, 0.9),
        ("nitrogen", 251, 0.67),
        ("hydrogen", 273, 1.15),
        ("helium", 156, 4.0),
    ],
)
def test_measured_minima_lie_in_the_band(gas, volts, torr_cm):
    # Naidu, High Voltage Engineering, p. 27, as quoted by a plasma library.
    band = breakdown_band(gas, to_si(torr_cm, "Torr", "pressure"), 0.01)
    assert band.low < volts
    assert band.high is None or volts < band.high
    assert volts < 2.5 * band.low


def test_left_of_the_minimum_the_law_gives_no_upper_edge():
    # Measured air, 327 V at 7.5 um atm and 533 V at 3.75 (svpwiki, Paschen's Law): the law with
    # gamma 0.01 gives 337 V and is undefined, by hand.
    assert breakdown_band("air", 101325, 7.5e-6).high == pytest.approx(337, rel=5e-3)
    band = breakdown_band("air", 101325, 3.75e-6)
    assert band.high is None
    assert band.low < 533


def test_similarity_of_the_glow():
    # fizika.hfd.hr/fizika_a/av97/a6p189.htm, neon: transition at 453 pA/(cm2 Pa2), which is
    # 8.05 uA/(cm2 Torr2): current goes with the square of the pressure.
    with_pressure = same_voltage_current(453e-12, 1.0, to_si(1, "Torr", "pressure"))
    assert with_pressure.value == pytest.approx(8.05e-6, rel=1e-3)


def test_the_dark_space_shrinks_with_pressure():
    # J. Appl. Phys. (1990), doi 10.1063/1.346491: from 0.05 to 0.5 Torr the sheath gets thinner as
    # the pressure rises (in RF as 1/sqrt(p), in DC at constant voltage as 1/p).
    thin, thick = dark_space(0.01, 0.1, 0.2).value, dark_space(0.01, 0.1, 0.05).value
    assert thin <= 0.01 / 2**0.5
    assert thick >= 0.01 * 2**0.5


@pytest.mark.parametrize(("torr_cm", "volts"), [(3.0, 244), (4.0, 245)])
def test_neon_strikes_most_easily_at_three_to_four_torr_centimetres(torr_cm, volts):
    """Neon on iron, 244 V at 3 Torr cm (Druyvesteyn and Penning, Rev. Mod. Phys. 12 (1940) 87) and
    245 V at 4 Torr cm (tables of lowest sparking voltages), both from memory."""
    low, high = easiest_pressures("neon", 0.01)
    assert low < torr_cm * TORR_CM / 0.01 < high
    band = breakdown_band("neon", torr_cm * TORR_CM / 0.01, 0.01)
    assert band.low < volts < band.high
