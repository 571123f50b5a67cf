"""Gauges, breakdown, glow scaling, vapour, oxygen and forces: judges, inverses and refusals."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import minimize_scalar

from troubleshoot.errors import UserError
from troubleshoot.physics import discharge, gauges, safety, vapour
from troubleshoot.physics.gases import ATMOSPHERE

TORR_CM = discharge.TORR_CM


@given(st.sampled_from(["argon", "helium", "air", "xenon"]), st.floats(1, 30))
def test_gauge_there_and_back(gas, true):
    assume(1 <= true / gauges.gauge_factor(gas) <= 100)
    shown = gauges.indicated_pressure(gas, true)
    assert gauges.true_pressure(gas, shown).value == pytest.approx(true)


def test_gauge_refuses_above_a_millibar_except_in_its_own_gas():
    assert gauges.true_pressure("air", 500).value == 500
    with pytest.raises(UserError, match="1 mbar"):
        gauges.true_pressure("argon", 101)
    with pytest.raises(UserError, match="No gauge factor"):
        gauges.true_pressure("radon", 10)
    assert gauges.true_pressure("argon", 0.99).notes
    assert not gauges.true_pressure("argon", 1.01).notes
    assert not gauges.true_pressure("argon", 5).notes


@given(a=st.floats(2, 20), b=st.floats(30, 400), gamma=st.sampled_from([0.01, 0.058, 0.12]))
def test_paschen_minimum_against_a_numerical_search(a, b, gamma):
    voltage, pd = discharge.paschen_minimum(a, b, gamma)
    found = minimize_scalar(
        lambda x: discharge.paschen_voltage(x, a, b, gamma) or math.inf,
        bracket=(pd * 0.7, pd * 1.1, pd * 3),
    )
    assert found.fun == pytest.approx(voltage, rel=1e-8)
    assert found.x == pytest.approx(pd, rel=1e-3)


@given(pd=st.floats(0.15, 90))
def test_the_band_holds_every_surface_between_its_edges(pd):
    band = discharge.breakdown_band("argon", pd * TORR_CM / 0.05, 0.05)
    for a, b in ((11.5, 176), (12, 180)):
        for gamma in (0.01, 0.03, 0.058, 0.12):
            point = discharge.paschen_voltage(pd * TORR_CM, a / TORR_CM, b / TORR_CM, gamma)
            if point is not None:
                assert band.low <= point * (1 + 1e-9)
                assert band.high is None or point <= band.high * (1 + 1e-9)


def test_the_band_opens_and_closes_as_the_pressure_falls():
    full = discharge.breakdown_band("argon", 66.7, 0.05)
    assert full.low < full.high
    half = discharge.breakdown_band("argon", 10, 0.05)
    assert half.high is None
    assert half.low > 0
    none = discharge.breakdown_band("argon", 1, 0.05)
    assert none.low is None
    assert none.high is None
    assert none.notes


def test_hot_gas_is_thin_gas():
    cold = discharge.breakdown_band("argon", 100, 0.05, 293.15)
    hot = discharge.breakdown_band("argon", 200, 0.05, 2 * 293.15)
    assert hot.low == pytest.approx(cold.low)


def test_breakdown_refuses():
    with pytest.raises(UserError, match="100 Torr cm"):
        discharge.breakdown_band("argon", ATMOSPHERE, 0.05)
    # Just below it does not.
    assert discharge.breakdown_band("argon", 99 * TORR_CM / 0.05, 0.05).high
    with pytest.raises(UserError, match="101 Torr cm"):
        discharge.breakdown_band("argon", 101 * TORR_CM / 0.05, 0.05)
    with pytest.raises(UserError, match="No breakdown data"):
        discharge.breakdown_band("xenon", 10, 0.05)


RUN = st.tuples(st.floats(300, 2500), st.floats(1e-3, 0.05), st.floats(3, 30))


@given(reference=RUN, exponent=st.floats(0.1, 2), current=st.floats(1e-3, 0.05))
def test_glow_there_and_back(reference, exponent, current):
    voltage = discharge.glow_voltage(reference, exponent, current, reference[2]).value
    back = discharge.glow_current(reference, exponent, voltage, reference[2])
    assert back.value == pytest.approx(current, rel=1e-6)
    second = (voltage, current, reference[2])
    assume(abs(math.log(current / reference[1])) > 0.01)
    assert discharge.glow_exponent(reference, second) == pytest.approx(exponent, rel=1e-6)


@given(reference=RUN, exponent=st.floats(0.1, 2), pressure=st.floats(3, 30))
def test_the_same_voltage_needs_the_square_of_the_pressure(reference, exponent, pressure):
    current = discharge.same_voltage_current(reference[1], reference[2], pressure).value
    voltage = discharge.glow_voltage(reference, exponent, current, pressure).value
    assert voltage == pytest.approx(reference[0], rel=1e-9)


@pytest.mark.parametrize(
    "scaled",
    [
        lambda factor: discharge.same_voltage_current(0.01, 10, 10 * factor),
        lambda factor: discharge.dark_space(0.01, 10, 10 * factor),
        lambda factor: discharge.glow_voltage((800, 0.01, 10), 0.3, 0.01, 10 * factor),
        lambda factor: discharge.glow_voltage((800, 0.01, 10), 0.3, 0.01 * factor, 10),
        lambda factor: discharge.glow_current((800, 0.01, 10), 0.3, 800, 10 * factor),
    ],
)
def test_scaling_too_far_is_called_a_guess(scaled):
    assert not scaled(1.3).notes
    assert not scaled(0.75).notes
    assert "guess" in scaled(3).notes[0]
    assert "guess" in scaled(0.3).notes[0]


def test_a_glow_whose_voltage_falls_with_current_is_not_scaled():
    for formula in (discharge.glow_voltage, discharge.glow_current):
        with pytest.raises(UserError, match="exponent must be above zero"):
            formula((800, 0.01, 10), -0.1, 1, 10)


@given(gap=st.floats(0.01, 0.1), kelvin=st.floats(280, 400))
def test_the_easiest_pressures_need_the_lowest_voltages(gap, kelvin):
    low, high = discharge.easiest_pressures("argon", gap, kelvin)
    # Each edge of the band is lowest at one end of the pressures.
    for pressure, edge in ((low, "low"), (high, "high")):
        least = getattr(discharge.breakdown_band("argon", pressure, gap, kelvin), edge)
        for factor in (0.85, 1.2):
            other = discharge.breakdown_band("argon", pressure * factor, gap, kelvin)
            found = getattr(other, edge)
            assert found is None or found > least * 0.999


def test_two_equal_runs_tell_no_exponent():
    with pytest.raises(UserError, match="two that differ"):
        discharge.glow_exponent((800, 0.01, 10), (900, 0.01, 10))


def test_vapour_pressure_boils_at_one_atmosphere():
    # Boiling points at 1 atm (CRC Handbook): an independent end of each curve.
    assert vapour.vapour_pressure("water", 373.124) == pytest.approx(ATMOSPHERE, rel=1e-3)
    assert vapour.vapour_pressure("acetone", 329.2) == pytest.approx(ATMOSPHERE, rel=0.01)
    assert vapour.vapour_pressure("ethanol", 351.4) == pytest.approx(ATMOSPHERE, rel=0.01)
    assert vapour.vapour_pressure("isopropanol", 355.4) == pytest.approx(ATMOSPHERE, rel=0.03)


@pytest.mark.parametrize(
    ("substance", "lowest", "highest"), [("acetone", 259, 508), ("ethanol", 273, 352)]
)
def test_each_fit_ends_where_it_was_published(substance, lowest, highest):
    # NIST Chemistry WebBook: acetone 259 to 507 K, ethanol 273 to 352 K.
    assert vapour.vapour_pressure(substance, lowest + 1) < vapour.vapour_pressure(
        substance, highest - 1
    )
    for outside in (lowest - 1, highest + 1):
        with pytest.raises(UserError, match="not known here"):
            vapour.vapour_pressure(substance, outside)


def test_vapour_pressure_refuses():
    with pytest.raises(UserError, match="not liquid"):
        vapour.vapour_pressure("water", 263.15)
    with pytest.raises(UserError, match="ethanol is not known here"):
        vapour.vapour_pressure("ethanol", 400)
    with pytest.raises(UserError, match="use water, acetone"):
        vapour.vapour_pressure("mercury", 293.15)


def test_a_full_argon_cylinder():
    # Density of argon by the reference equation of state of Tegeler, Span and Wagner (1999): 50 L
    # at 200 bar and 20 degC give 10.45 m3 at 1 atm; ideal gas 9.87.
    gas = safety.released_volume(0.05, 200e5)
    assert gas == pytest.approx(10.45, rel=0.01)
    assert safety.oxygen_after_release(gas, 30) == pytest.approx(0.137, abs=0.001)
    assert safety.oxygen_after_mixing(gas, 30) == pytest.approx(0.148, abs=0.001)


def test_a_nearly_empty_cylinder_is_an_ideal_gas():
    assert safety.released_volume(0.05, 1e5) == pytest.approx(0.05 * 1e5 / ATMOSPHERE, rel=1e-3)
    with pytest.raises(UserError, match="filled so high"):
        safety.released_volume(0.05, 3.01e7)
    assert safety.released_volume(0.05, 2.99e7)


def test_ventilated_room_against_an_integrated_balance():
    leak, fresh, room = 0.002, 0.01, 40.0
    solution = solve_ivp(
        lambda t, c: [(0.2095 * fresh - c[0] * (leak + fresh)) / room],
        (0, 1800),
        [0.2095],
        rtol=1e-10,
        atol=1e-12,
    )
    assert safety.oxygen_with_ventilation(leak, fresh, room, 1800) == pytest.approx(
        solution.y[0, -1], rel=1e-6
    )
    assert safety.oxygen_with_ventilation(leak, fresh, room) == pytest.approx(
        0.2095 * fresh / (leak + fresh)
    )


@given(gas=st.floats(0, 100), room=st.floats(5, 500))
def test_displacement_is_the_worse_case(gas, room):
    worst = safety.oxygen_after_release(gas, room)
    assert 0 <= worst <= safety.oxygen_after_mixing(gas, room) + 1e-12


def test_force_on_a_lid_is_pressure_times_area():
    assert safety.force_on_lid(2 / math.sqrt(math.pi)) == pytest.approx(101325)
    with pytest.raises(UserError, match="diameter"):
        safety.force_on_lid(0)
