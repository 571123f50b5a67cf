"""Pump-down, conductance, rise and purging: independent integration, inverses and refusals."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from troubleshoot.errors import UserError
from troubleshoot.physics import conductance, purging, rise
from troubleshoot.physics.gas_kinetics import (
    knudsen,
    mean_free_path,
    mean_free_path_hard_sphere,
)
from troubleshoot.physics.gases import ATMOSPHERE, GASES, gas_named
from troubleshoot.physics.leaks import seal_permeation
from troubleshoot.physics.pumping import (
    EXHAUST_PRESSURE,
    ballast_tolerance,
    outgassing_rate,
    pressure_after,
    pump_down_time,
    speed_needed,
    ultimate_pressure,
)
from troubleshoot.physics.vapour import water_vapour_pressure

VOLUMES = st.floats(1e-3, 0.1)
SPEEDS = st.floats(1e-5, 0.05)


def integrate(rate, start, seconds):
    """The pressure after `seconds` of dp/dt = rate(t, p), by an independent integrator."""
    solution = solve_ivp(
        lambda t, y: [rate(t, y[0])], (0, seconds), [start], rtol=1e-10, atol=1e-10, method="LSODA"
    )
    return solution.y[0, -1]


def test_pump_down_against_an_integrated_gas_balance():
    time = pump_down_time(5e-3, 1e-3, ATMOSPHERE, 10, 2).value
    assert integrate(lambda t, p: -1e-3 * (p - 2) / 5e-3, ATMOSPHERE, time) == pytest.approx(
        10, rel=1e-5
    )


@given(volume=VOLUMES, speed=SPEEDS, start=st.floats(1e3, 1e5), ratio=st.floats(1e-3, 0.5))
def test_pump_down_there_and_back(volume, speed, start, ratio):
    ultimate = 1.0
    end = ultimate + (start - ultimate) * ratio
    time = pump_down_time(volume, speed, start, end, ultimate).value
    after = pressure_after(time, volume, speed, start, ultimate)
    assert after == pytest.approx(end, rel=1e-9)
    assert speed_needed(volume, 60, start, end).value == pytest.approx(
        volume / 60 * math.log(start / end), rel=1e-12
    )


def test_pump_down_says_when_the_walls_rule():
    assert pump_down_time(5e-3, 1e-3, ATMOSPHERE, 100).notes == ()
    assert "walls" in pump_down_time(5e-3, 1e-3, ATMOSPHERE, 5).notes[0]
    assert "Near the ultimate" in pump_down_time(5e-3, 1e-3, ATMOSPHERE, 10, 2).notes[0]
    assert "walls" in speed_needed(5e-3, 60, ATMOSPHERE, 5).notes[0]
    with pytest.raises(UserError, match="nothing is left to pump"):
        pressure_after(10, 5e-3, 1e-3, 10, 20)


def test_ballast_against_the_share_of_water_in_the_exhaust():
    # At the limit the share of water in what goes out, at the exhaust pressure, is just saturated.
    ballast, speed, hot, room = 0.1, 1.0, 333.15, 293.15
    most = ballast_tolerance(ballast, speed, hot, 0.5, room)
    air, damp = ATMOSPHERE, 0.5 * water_vapour_pressure(room)
    share = (speed * most + ballast * damp) / (speed * most + ballast * air)
    assert share * EXHAUST_PRESSURE == pytest.approx(water_vapour_pressure(hot), rel=1e-9)


def test_a_cold_pump_takes_no_water():
    assert ballast_tolerance(0.1, 1, 283.15, 1.0) == 0
    with pytest.raises(UserError, match="does not condense"):
        ballast_tolerance(0.1, 1, 393.15)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((5e-3, 1e-3, 10, 10), "below the start"),
        ((5e-3, 1e-3, ATMOSPHERE, 1, 2), "never reached"),
        ((0, 1e-3, ATMOSPHERE, 10), "volume must be above zero"),
        ((5e-3, -1, ATMOSPHERE, 10), "speed must be above zero"),
        ((5e-3, 1e-3, math.inf, 10), "start pressure"),
        ((5e-3, 1e-3, ATMOSPHERE, math.nan), "end pressure"),
    ],
)
def test_pump_down_refuses(arguments, says):
    with pytest.raises(UserError, match=says):
        pump_down_time(*arguments)


def test_outgassing_refuses_what_the_law_does_not_cover():
    with pytest.raises(UserError, match=r"0\.5 to 100 h"):
        outgassing_rate("metal", 1e-5, 60)
    with pytest.raises(UserError, match="elastomer"):
        outgassing_rate("wood", 1e-5, 3600)


@given(diameter=st.floats(5e-3, 0.05), slenderness=st.floats(10, 200))
def test_the_full_tube_formula_ends_in_its_limits(diameter, slenderness):
    air = gas_named("air")
    length = diameter * slenderness
    speed = air.mean_speed(293.15)
    thin = conductance.knudsen_long_tube(air, diameter, length, 1e-6)
    dense = conductance.knudsen_long_tube(air, diameter, length, 1e5)
    assert thin == pytest.approx(conductance.molecular_long_tube(diameter, length, speed), rel=1e-3)
    assert dense == pytest.approx(
        conductance.viscous_tube(diameter, length, 1e5, air.viscosity(293.15)), rel=1e-2
    )


def test_a_short_tube_lets_clausings_share_of_its_mouth_through():
    air = gas_named("air")
    mouth = conductance.orifice(0.02, air.mean_speed(293.15))
    assert conductance.tube(air, 0.02, 0.04, 1e-6) == pytest.approx(0.3566 * mouth, rel=1e-3)


@given(slenderness=st.floats(0, 500))
def test_a_longer_tube_lets_less_through_and_never_more_than_a_long_one(slenderness):
    share = conductance.transmission(slenderness)
    assert conductance.transmission(slenderness * 1.01 + 0.001) < share <= 1
    if slenderness > 0:
        assert share < 4 / (3 * slenderness)


def test_a_tube_near_the_atmosphere_says_that_it_chokes():
    air = gas_named("air")
    notes = conductance.tube_notes(air, 0.016, 1.0, 101325)
    assert "39.9 L/s" in notes[0]
    assert "chokes" in notes[0]


@given(pressure=st.floats(1e-3, 100))
def test_the_mouth_of_a_long_hose_hardly_matters(pressure):
    air = gas_named("air")
    hose = conductance.tube(air, 0.016, 1.0, pressure)
    long_form = conductance.knudsen_long_tube(air, 0.016, 1.0, pressure)
    assert hose == pytest.approx(long_form, rel=0.05)
    assert not conductance.tube_notes(air, 0.016, 1.0, pressure)


def test_a_short_tube_says_where_its_number_is_too_high():
    air = gas_named("air")
    assert "short" in conductance.tube_notes(air, 0.02, 0.06, 3)[0]
    assert not conductance.tube_notes(air, 0.02, 0.06, 1e-3)


def test_an_opening_says_when_its_flow_is_not_molecular():
    argon = gas_named("argon")
    fine, wide = (conductance.opening(argon, d, 1.0) for d in (1e-3, 0.05))
    assert wide.value == pytest.approx(2500 * fine.value)
    assert not fine.notes
    assert "transitional" in wide.notes[0]


def test_reynolds_number_of_a_flow_of_air():
    # Re = density x speed x bore / viscosity, for 1.204 kg/m3 at 1 m/s in a bore of 10 mm.
    flow = ATMOSPHERE * math.pi * 0.01**2 / 4
    assert conductance.reynolds(gas_named("air"), flow, 0.01) == pytest.approx(
        1.204 * 1 * 0.01 / 1.82e-5, rel=0.005
    )


@pytest.mark.parametrize(
    ("material", "nitrogen", "oxygen", "water"), [("nitrile", 2.0, 6.0, 760), ("FKM", 0.3, 1.1, 40)]
)
def test_permeabilities_in_the_units_of_their_table(material, nitrogen, oxygen, water):
    # from memory: Peacock, J. Vac. Sci. Technol. 17 (1980) 330, high ends, in 1e-8 cm3 (at 1 atm)
    # cm/(cm2 s atm). Through one metre of seal about as high as wide.
    to_square_metres = 1e-8 * 1e-4
    damp = 0.6 * water_vapour_pressure(293.15)
    air = (0.79 * nitrogen + 0.21 * oxygen) * (ATMOSPHERE - damp)
    dry = air * to_square_metres
    through = seal_permeation(material, 1.0, 0.6)
    assert through == pytest.approx(dry + water * damp * to_square_metres, rel=0.02)
    assert seal_permeation(material, 1.0, 0.0) == pytest.approx(dry, rel=0.03)
    assert through < seal_permeation("silicone", 1.0, 0.6) / 10


def test_unknown_rubber_is_refused():
    with pytest.raises(UserError, match="use nitrile, FKM, silicone"):
        seal_permeation("cork", 1.0)


@given(pump=SPEEDS, hose=SPEEDS)
def test_a_hose_never_helps(pump, hose):
    left = conductance.effective_speed(pump, hose)
    assert left < min(pump, hose)
    assert left >= min(pump, hose) / 2 * (1 - 1e-12)


@pytest.mark.parametrize("kind", GASES, ids=lambda gas: gas.name)
def test_mean_free_path_is_inverse_to_pressure(kind):
    assert mean_free_path(kind, 1) == pytest.approx(10 * mean_free_path(kind, 10))
    if kind.diameter is None:
        with pytest.raises(UserError, match="diameter"):
            mean_free_path_hard_sphere(kind, 1)
    else:
        assert mean_free_path_hard_sphere(kind, 1) == pytest.approx(
            mean_free_path(kind, 1), rel=0.15
        )


@pytest.mark.parametrize(
    ("gas", "viscosity"),
    [
        ("argon", 2.2307e-5),
        ("air", 1.8206e-5),
        ("nitrogen", 1.7574e-5),
        ("oxygen", 2.0251e-5),
        ("helium", 1.962e-5),
        ("hydrogen", 8.796e-6),
        ("carbon dioxide", 1.4666e-5),
    ],
)
def test_viscosity_at_20_degrees(gas, viscosity):
    # Reference equations of state, as printed by an independent property library.
    assert gas_named(gas).viscosity(293.15) == pytest.approx(viscosity, rel=0.008)


@pytest.mark.parametrize(
    ("gas", "viscosity"),
    [
        ("argon", 2.8692e-5),
        ("air", 2.3044e-5),
        ("nitrogen", 2.2200e-5),
        ("oxygen", 2.5821e-5),
        ("helium", 2.4290e-5),
        ("hydrogen", 1.0908e-5),
        ("carbon dioxide", 1.9621e-5),
    ],
)
def test_viscosity_at_400_kelvin(gas, viscosity):
    # The same library; what Sutherland's constants are for.
    assert gas_named(gas).viscosity(400) == pytest.approx(viscosity, rel=0.01)


@pytest.mark.parametrize(
    ("gas", "grams"),
    [
        # IUPAC standard atomic weights.
        ("argon", 39.948),
        ("nitrogen", 28.014),
        ("oxygen", 31.998),
        ("water vapour", 18.015),
        ("carbon dioxide", 44.009),
        ("helium", 4.0026),
        ("hydrogen", 2.016),
        ("neon", 20.180),
        ("krypton", 83.798),
        ("xenon", 131.293),
    ],
)
def test_molar_masses(gas, grams):
    assert gas_named(gas).molar_mass * 1e3 == pytest.approx(grams, rel=1e-4)


def test_viscosity_of_steam():
    # from memory: steam tables, saturated steam at 20 degC, 9.7e-6 Pa s.
    assert gas_named("water vapour").viscosity(293.15) == pytest.approx(9.7e-6, rel=0.03)


def test_gases_by_symbol_and_refused():
    assert gas_named("Ar") is gas_named("ARGON")
    assert gas_named("water-vapour") is gas_named("H2O")
    with pytest.raises(UserError, match="did you mean argon"):
        gas_named("argn")
    with pytest.raises(UserError, match="200 to 600 K"):
        mean_free_path(gas_named("argon"), 1, 50)
    with pytest.raises(UserError, match="size"):
        knudsen(1e-3, 0)


VOLUME, LOAD, PUMPED, START = 5e-3, 1e-4, 600.0, 5.0


@pytest.mark.parametrize(
    ("formula", "exponent"), [(rise.wall_pressure, 1.0), (rise.seal_pressure, 0.5)]
)
def test_rise_by_outgassing_against_an_integrated_law(formula, exponent):
    def rate(t, p):
        return LOAD / VOLUME * (PUMPED / (PUMPED + t)) ** exponent

    found = formula(300, START, LOAD, PUMPED, VOLUME)
    assert found == pytest.approx(integrate(rate, START, 300), rel=1e-7)


def test_outgassing_after_a_short_time_is_called_rough():
    assert "roughly" in rise.outgassing_notes(600)[0]
    assert rise.outgassing_notes(1799)
    assert not rise.outgassing_notes(1800)


def test_rise_by_a_trapped_pocket_against_an_integrated_gas_balance():
    pocket, path, inside = 1e-6, 1e-9, 1e5
    total = START * VOLUME + inside * pocket

    def rate(t, p):
        return path * ((total - p * VOLUME) / pocket - p) / VOLUME

    assert rise.virtual_leak_pressure(500, START, inside, pocket, VOLUME, path) == pytest.approx(
        integrate(rate, START, 500), rel=1e-7
    )


def test_rise_by_a_liquid_against_an_integrated_law():
    assert rise.vapour_pressure_limited(90, START, 2339, 60) == pytest.approx(
        integrate(lambda t, p: (2339 - p) / 60, START, 90), rel=1e-7
    )
    with pytest.raises(UserError, match="not this vapour alone"):
        rise.vapour_pressure_limited(90, 3000, 2339, 60)


def test_a_leak_is_a_straight_line_until_it_is_refused():
    assert rise.leak_pressure(120, START, LOAD, VOLUME) == pytest.approx(START + 120 * 0.02)
    with pytest.raises(UserError, match="straight line"):
        rise.leak_pressure(1e6, START, LOAD, VOLUME)
    # The line holds up to 5 % of an atmosphere.
    seconds = 0.05 * ATMOSPHERE * VOLUME / LOAD
    assert rise.leak_pressure(0.99 * seconds, 0, LOAD, VOLUME)
    with pytest.raises(UserError, match="straight line"):
        rise.leak_pressure(1.01 * seconds, 0, LOAD, VOLUME)


def test_the_base_must_be_twice_the_blank_off():
    assert rise.speed_from_rise(VOLUME, 1.0, 2.02, 1.0)
    with pytest.raises(UserError, match="twice"):
        rise.speed_from_rise(VOLUME, 1.0, 1.98, 1.0)


@given(
    volume=VOLUMES,
    speed=SPEEDS,
    load=st.floats(1e-6, 1e-2),
    blank_off=st.floats(0.01, 5),
)
def test_speed_comes_back_from_base_and_rise(volume, speed, load, blank_off):
    base = ultimate_pressure(blank_off, load, speed)
    gained = load / volume
    if base < 2 * blank_off:
        with pytest.raises(UserError, match="blank-off"):
            rise.speed_from_rise(volume, gained, base, blank_off)
    else:
        found = rise.speed_from_rise(volume, gained, base, blank_off)
        assert found == pytest.approx(speed, rel=1e-6)


@given(
    volume=VOLUMES,
    leak=st.floats(1e-6, 1e-2),
    seconds=st.floats(1, 300),
)
def test_throughput_comes_back_from_a_leak(volume, leak, seconds):
    try:
        end = rise.leak_pressure(seconds, START, leak, volume)
    except UserError:
        return
    assert rise.throughput(volume, START, end, seconds) == pytest.approx(leak, rel=1e-6)


def test_a_falling_pressure_is_not_a_leak():
    with pytest.raises(UserError, match="falls"):
        rise.throughput(VOLUME, 10, 5, 60)


def test_temperature_alone_looks_like_a_leak_but_is_none():
    warmer = 10 * 303.15 / 293.15
    assert rise.molar_leak_rate(VOLUME, 10, warmer, 60, 293.15, 303.15) == pytest.approx(
        0, abs=1e-15
    )


@given(
    low=st.floats(1, 50),
    gain=st.floats(1.1, 20),
    cycles=st.integers(0, 20),
    fill=st.floats(0, 0.01),
)
def test_filling_against_a_step_by_step_balance(low, gain, cycles, fill):
    high = low * gain
    share = 1.0
    for _ in range(cycles):
        share = (share * low + fill * (high - low)) / high
    assert purging.filled_air_share(low, high, cycles, 1.0, fill) == pytest.approx(share, rel=1e-9)


def test_sweeping_against_an_integrated_gas_balance():
    volume, speed, pressure, leak = 5e-3, 0.7e-3, 10.0, 1e-3
    argon = speed * pressure - leak

    def rate(t, air):
        return (leak - speed * air) / volume

    air = integrate(rate, pressure, 20)
    assert purging.air_share_with_leak(20, volume, speed, leak, argon) == pytest.approx(
        air / pressure, rel=1e-6
    )
    tight = integrate(lambda t, p: -speed * p / volume, pressure, 20)
    assert purging.swept_air_share(volume, speed, 20) == pytest.approx(tight / pressure, rel=1e-6)


@given(seconds=st.floats(0, 60), argon=st.floats(1e-4, 0.1))
def test_without_a_leak_the_settled_share_is_nothing(seconds, argon):
    assert purging.leak_air_share(0, argon) == 0
    assert purging.air_share_with_leak(seconds, 5e-3, 1e-3, 0, argon) == pytest.approx(
        purging.swept_air_share(5e-3, 1e-3, seconds), rel=1e-12
    )


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: purging.filled_air_share(10, 5, 1), "below the high"),
        (lambda: purging.filled_air_share(1, 5, -1), "cycles"),
        (lambda: purging.filled_air_share(1, 5, 1, start=1.5), "between 0 and 1"),
        (lambda: purging.cycles_needed(1, 5, 0.1, 0.2), "must be below the share at the start"),
        (lambda: purging.cycles_needed(5, 1, 0.2, 0.1), "below the high"),
        (lambda: purging.argon_used(1, 5, 1, 2), "below the high"),
        (lambda: purging.leak_allowed(10, 1e-3, 1.5), "between 0 and 1"),
        (lambda: purging.swept_air_share(math.inf, 1, 10), "must be a number"),
        (lambda: purging.leak_air_share(0, 0), "total flow"),
        (lambda: purging.swept_air_share(5e-3, 0, 10), "speed"),
    ],
)
def test_purging_refuses(call, says):
    with pytest.raises(UserError, match=says):
        call()
