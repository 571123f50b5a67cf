"""Pumping, conductance, rise and units against published numbers; each source stands beside it."""

import math

import pytest

from troubleshoot.physics.conductance import (
    effective_speed,
    in_series,
    knudsen_long_tube,
    molecular_long_tube,
    orifice,
    viscous_tube,
)
from troubleshoot.physics.gases import gas_named
from troubleshoot.physics.pumping import ballast_blank_off, outgassing_rate, ultimate_pressure
from troubleshoot.physics.pumping import speed_needed as needed
from troubleshoot.physics.rise import (
    leak_pressure,
    molar_leak_rate,
    seal_pressure,
    throughput,
    wall_pressure,
)
from troubleshoot.physics.units import parse, to_si

AIR = gas_named("air")
AIR_SPEED = AIR.mean_speed(293.15)


def test_speed_for_a_stated_pump_down():
    # vacuum-guide.com/english/vacuum_units/evacuation_time_vacuum_pump_sizing.htm: 1000 m3 from
    # 1000 to 200 mbar in 10 min takes 160 m3/min (rounded there).
    speed = needed(1000, to_si(10, "min", "time"), 1000e2, 200e2)
    assert speed * 60 == pytest.approx(160, rel=0.01)


@pytest.mark.parametrize(
    ("volume", "start", "end", "seconds", "expected"),
    [
        # common practice, no source: 750 cubic feet, 760 to 150 Torr, 3 min: 405 cubic feet/min.
        ("750 ft3", "760 Torr", "150 Torr", "3 min", "405 cfm"),
        # common practice, no source: 0.2 m3 from the atmosphere to 0.1 hPa in 180 s: 10.2 L/s.
        ("0.2 m3", "1 atm", "0.1 hPa", "180 s", "10.2 L/s"),
    ],
)
def test_speed_of_worked_examples(volume, start, end, seconds, expected):
    speed = needed(
        parse(volume, "volume").si,
        parse(seconds, "time").si,
        parse(start, "pressure").si,
        parse(end, "pressure").si,
    )
    assert speed == pytest.approx(parse(expected, "volume flow").si, rel=0.005)


def test_a_hose_of_a_fifth_of_the_speed():
    # homo-deus.com/lab/vacuum-science/pump-speed/: 500 L/s behind 100 L/s leaves 83.3 L/s (17 %).
    assert effective_speed(500, 100) == pytest.approx(83.3, rel=5e-4)


def test_long_tube_and_what_it_leaves():
    # common practice, no source (C = 75 D^3/L, inches, L/s): 2 in by 20 in gives 30 L/s, and of
    # 50 L/s it leaves 18.87 L/s by rounded steps. The coefficient itself is rounded.
    tube = molecular_long_tube(to_si(2, "in", "length"), to_si(20, "in", "length"), AIR_SPEED)
    assert tube * 1e3 == pytest.approx(30, rel=0.05)
    assert effective_speed(50, 30) == pytest.approx(18.87, rel=0.01)


def test_molecular_tube_and_its_share_of_a_pump():
    # common practice, no source: d 0.07 m, L 2.47 m, mean speed 471 m/s: 0.017123 m3/s; with a
    # pump of 2.9722e-2 m3/s that leaves 1.0864e-2 m3/s.
    tube = molecular_long_tube(0.07, 2.47, 471)
    assert tube == pytest.approx(0.017123, rel=1e-4)
    assert effective_speed(2.9722e-2, tube) == pytest.approx(1.0864e-2, rel=1e-4)


def test_molecular_coefficients_for_air():
    # codingace.net/general/molecular_flow_cond.html: 12.1 d^3/L (5 by 100 cm: 15.125 L/s),
    # 11.6 A (20 cm2: 232 L/s) and helium by sqrt(M_air/M): 40.7 L/s.
    helium = gas_named("helium").mean_speed(293.15)
    assert molecular_long_tube(0.05, 1.0, AIR_SPEED) * 1e3 == pytest.approx(15.125, rel=0.003)
    assert orifice(math.sqrt(4 * 20e-4 / math.pi), AIR_SPEED) * 1e3 == pytest.approx(232, rel=0.003)
    assert molecular_long_tube(0.05, 1.0, helium) * 1e3 == pytest.approx(40.7, rel=0.003)


def test_engineering_text_in_si():
    # Levenspiel, Engineering Flow and Heat Exchange (2014), p. 90: tube 121.3 d^3/L, orifice
    # 91 d^2 (m3/s, m); 1/C = 1.1 + 81.5 + 5 s/m3 gives 0.0114 m3/s.
    assert molecular_long_tube(1, 1, AIR_SPEED) == pytest.approx(121.3, rel=0.005)
    assert orifice(1, AIR_SPEED) == pytest.approx(91, rel=0.005)
    assert in_series(1 / 1.1, 1 / 81.5, 1 / 5) == pytest.approx(0.0114, rel=0.005)


def test_viscous_coefficient_for_air():
    # ja.scribd.com/document/343359118/Conductance: C = 135 d^4 p/L (cm, mbar, L/s), air at 20 degC.
    tube = viscous_tube(0.01, 0.01, 100, AIR.viscosity(293.15))
    assert tube * 1e3 == pytest.approx(135, rel=0.005)


@pytest.mark.parametrize(
    ("diameter_cm", "mean_mbar", "litres_per_second"),
    [(1, 1e-4, 0.1206), (1, 0.1, 0.2340), (1.6, 0.1, 1.2887), (2.5, 1, 54.27)],
)
def test_between_viscous_and_molecular(diameter_cm, mean_mbar, litres_per_second):
    # C = 135 d^4 p/L + 12.1 (d^3/L)(1 + 192 d p)/(1 + 237 d p), a vacuum handbook's equation 1.26
    # for air at 20 degC: common practice, no source. Its rounded coefficients allow 1 %.
    tube = knudsen_long_tube(AIR, diameter_cm / 100, 1.0, mean_mbar * 100)
    assert tube * 1e3 == pytest.approx(litres_per_second, rel=0.01)


def test_base_pressure_of_an_outgassing_wall():
    # venables.asu.edu/grad/sect22.html: q 1e-8 mbar L/(s m2), 1 m2, base 2e-10 mbar; the speed of
    # 50 L/s is inferred from these.
    load = to_si(1e-8, "mbar L/s", "throughput") * 1.0
    pressure = ultimate_pressure(0, load, to_si(50, "L/s", "volume flow"))
    assert pressure / 100 == pytest.approx(2e-10, rel=1e-6)


def test_gas_ballast_costs_a_decade():
    # common practice, no source: an open ballast raises the ultimate pressure by about a decade.
    assert math.log10(ballast_blank_off(0.4) / 0.4) == pytest.approx(1, abs=0.3)


def test_a_leak_from_two_pressures():
    # 40 CFR 1065.644, equation 1065.644-1 and its inputs (R = 8.314472). The printed result could
    # not be read, so the right-hand side is that equation done by hand.
    moles = molar_leak_rate(2.0000e-3, 25.300e3, 50.600e3, 70, 293.15, 293.15)
    assert moles == pytest.approx(2.966e-4, rel=5e-4)


def test_rate_of_rise():
    # electronicsweb.com/doc/an-explanation-of-leak-rate-0001: 100 to 105 mTorr in a minute is
    # 5 mTorr/min.
    flow = throughput(1.0, parse("100 mTorr", "pressure").si, parse("105 mTorr", "pressure").si, 60)
    assert flow == pytest.approx(parse("5 mTorr/min", "pressure rate").si, rel=1e-9)


def test_air_needed_to_hold_against_a_leak():
    # common practice, no source: 25 to 75 Torr in 30 min in 1000 cubic feet needs 27.7 cubic
    # feet/min at 60 Torr.
    flow = throughput(
        to_si(1000, "ft3", "volume"),
        to_si(25, "Torr", "pressure"),
        to_si(75, "Torr", "pressure"),
        to_si(30, "min", "time"),
    )
    assert flow / to_si(60, "Torr", "pressure") == pytest.approx(
        to_si(27.7, "cfm", "volume flow"), rel=0.005
    )


def test_shapes_of_the_rise():
    # vactech.pages.dev/M02/M02-lesson-03.html: a leak rises in a straight line; outgassing starts
    # steep and its slope falls.
    def slopes(pressure):
        return [pressure(t + 60) - pressure(t) for t in (0, 60, 120, 180)]

    leak = slopes(lambda t: leak_pressure(t, 5, 1e-4, 5e-3))
    walls = slopes(lambda t: wall_pressure(t, 5, 1e-4, 300, 5e-3))
    seals = slopes(lambda t: seal_pressure(t, 5, 1e-4, 300, 5e-3))
    assert leak == pytest.approx([leak[0]] * 4)
    assert walls == sorted(walls, reverse=True)
    assert seals == sorted(seals, reverse=True)
    assert walls[-1] < seals[-1] < leak[-1]


def test_laws_of_outgassing():
    # common practice, no source: metals and glass fall as 1/t, elastomers as 1/sqrt(t).
    ten_hours = 36000
    assert outgassing_rate("metal", 1.0, ten_hours) == pytest.approx(0.1)
    assert outgassing_rate("glass", 1.0, ten_hours) == pytest.approx(0.1)
    assert outgassing_rate("elastomer", 1.0, ten_hours) == pytest.approx(10**-0.5)


@pytest.mark.parametrize(
    ("given", "unit", "expected", "tolerance"),
    [
        # semiconductor-tools.pages.dev/tools/throughput-converter
        ("1 sccm", "mbar L/s", 0.01689, 5e-4),
        ("1 sccm", "Pa m3/s", 1.689e-3, 5e-4),
        ("1 mbar L/s", "Pa m3/s", 0.1, 1e-9),
        ("1 mbar L/s", "sccm", 59.2, 5e-4),
        ("1 mbar L/s", "Torr L/s", 0.750, 5e-4),
        ("1 Torr L/s", "mbar L/s", 1.33, 5e-3),
        ("1 Torr L/s", "sccm", 79, 5e-3),
    ],
)
def test_leak_units(given, unit, expected, tolerance):
    assert parse(given, "throughput").to(unit) == pytest.approx(expected, rel=tolerance)


def test_pressure_units():
    # primidi.com/torr/conversion_factors, after the conventional definitions.
    assert parse("1 Torr", "pressure").si == pytest.approx(133.322368421, rel=1e-11)
    assert parse("1 mmHg", "pressure").si == pytest.approx(133.322387415, rel=1e-11)
    assert parse("1 Torr", "pressure").to("mmHg") == pytest.approx(0.999999857534, rel=1e-11)
    assert parse("1 atm", "pressure").si == 101325
    assert parse("1 micron", "pressure").si == pytest.approx(0.133322, rel=1e-5)
