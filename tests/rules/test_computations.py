"""The computations that the sources of rules name (`computation NAME`), each worked out again.

A test of that name for each: it computes the figures, and every source that names the computation
must state them. Unless said otherwise: a pump of 0.7 l/s at a chamber of 5 l, at 20 degC.
"""

import math
import sys

import numpy as np
import pytest

from troubleshoot.knowledge.sources import computations, sourced
from troubleshoot.physics.beam import field_shift
from troubleshoot.physics.coats import coat_share, drop_width, foreshortened, small_source_coat
from troubleshoot.physics.conductance import effective_speed, orifice, tube, viscous_tube
from troubleshoot.physics.discharge import breakdown_band, same_voltage_current
from troubleshoot.physics.gas_kinetics import mean_free_path
from troubleshoot.physics.gases import (
    ATMOSPHERE,
    BOLTZMANN,
    GAS_CONSTANT,
    ROOM_TEMPERATURE,
    gas_named,
)
from troubleshoot.physics.gauges import true_pressure
from troubleshoot.physics.pumping import pump_down_time, ultimate_pressure
from troubleshoot.physics.purging import swept_air_share
from troubleshoot.physics.rise import throughput
from troubleshoot.physics.safety import force_on_lid, released_volume
from troubleshoot.physics.vapour import water_vapour_pressure

SPEED, VOLUME = 0.7e-3, 5e-3
MBAR, TORR, MBAR_LITRE = 100.0, 133.322, 0.1
AIR, ARGON, WATER = (gas_named(name) for name in ("air", "argon", "water vapour"))
SCCM = ATMOSPHERE * 1e-6 / 60 * ROOM_TEMPERATURE / 273.15  # Pa m3/s at 20 degC
ELECTRON, AVOGADRO, GRAVITY = 1.602176634e-19, 6.02214076e23, 9.81
TARGET = 28.5  # mm, radius of a 57 mm target

near = pytest.approx


@pytest.fixture
def says(rules, request):
    """Every source that names the computation of this test states these figures."""

    def says(*figures):
        name = request.node.name.removeprefix("test_")
        naming = [entry for _, entry in sourced(rules) if name in computations(entry.source)]
        for entry in naming:
            text = " ".join(entry.source.split())
            assert [figure for figure in figures if figure not in text] == [], entry.id

    return says


def test_computations_are_those_that_sources_name(rules):
    named = {name for _, entry in sourced(rules) for name in computations(entry.source)}
    tests = {name[5:] for name in vars(sys.modules[__name__]) if name.startswith("test_")}
    assert tests - {"computations_are_those_that_sources_name"} == named


# --- leaks ----------------------------------------------------------------------------------------


def choked(area):
    """Room air in Pa m3/s through an opening into vacuum: the flow of an ideal gas at sonic speed.

    Source: Bird, Stewart and Lightfoot, Transport Phenomena, 1960, flow through a nozzle.
    """
    kappa = 1.4
    speed = math.sqrt(kappa * GAS_CONSTANT * ROOM_TEMPERATURE / AIR.molar_mass)
    return ATMOSPHERE * area * speed * (2 / (kappa + 1)) ** ((kappa + 1) / (2 * (kappa - 1)))


def through_channel(bore, length):
    """Room air in Pa m3/s through a fine channel into vacuum: laminar, half an atmosphere mean."""
    viscosity = AIR.viscosity(ROOM_TEMPERATURE)
    return viscous_tube(bore, length, ATMOSPHERE / 2, viscosity) * ATMOSPHERE


def test_trapped_air(says):
    """p = Q/S: 1 cm3 at one bar behind 1 ul/s, and what lasts for half an hour."""
    added, lasting = ATMOSPHERE * 1e-9 / SPEED, 0.05 * MBAR * SPEED * 1800 / ATMOSPHERE
    assert added / MBAR == near(1.4e-3, rel=0.05)
    assert lasting * 1e6 == near(60, rel=0.05)
    says("1.4e-3 mbar at 0.7 l/s", "60 cm3")


def test_hole_that_holds_base(says):
    flow = 0.1 * MBAR * SPEED
    assert flow / MBAR_LITRE == near(0.07)
    assert choked(math.pi * 0.02e-3**2 / 4) == near(flow, rel=0.12)
    says("0.02 mm", "0.07 mbar l/s", "0.1 mbar at 0.7 l/s")


def test_gap_open_to_air(says):
    assert choked(1e-6) / ATMOSPHERE * 1e3 == near(0.2, rel=0.02)
    assert choked(1e-6) / SPEED / MBAR == near(290, rel=0.02)
    says("0.2 litres", "0.7 l/s", "290 mbar")


def test_channel_beside_hair(says):
    """Two channels of half the hair's thickness: order of magnitude."""
    flow = 2 * through_channel(0.035e-3, 3e-3)
    assert flow / MBAR_LITRE == near(0.07, rel=0.05)
    assert flow / SPEED / MBAR == near(0.1, rel=0.05)
    says("0.07 mm", "3 mm", "0.07 mbar l/s", "0.1 mbar at 0.7 l/s")


def test_nick_across_seal(says):
    flow = through_channel(0.05e-3, 3e-3)
    assert flow < choked(math.pi * 0.05e-3**2 / 4)
    assert flow / SPEED / MBAR == near(0.2, rel=0.05)
    says("0.05 mm", "3 mm", "0.2 mbar at 0.7 l/s")


def test_oil_below_base(says):
    oil, base = 4e-5 * TORR, 0.05 * MBAR
    assert oil / base == near(1e-3, rel=0.1)
    says("4e-5 Torr", "a thousandth of 0.05 mbar")


def test_lid_held_by_air(says):
    assert force_on_lid(0.15) / GRAVITY == near(180, rel=0.02)
    says("150 mm", "180 kgf")


def test_lid_held_by_rest(says):
    assert force_on_lid(0.15, 10 * MBAR) / GRAVITY == near(1.8, rel=0.02)
    says("10 mbar", "150 mm", "1.8 kgf")


def test_grain_in_a_gust(says):
    """Stokes's law: the air that carries a sphere of twice the density of water."""
    carried = 2000 * GRAVITY * 50e-6**2 / (18 * AIR.viscosity(ROOM_TEMPERATURE))
    assert carried == near(0.15, rel=0.02)
    says("0.05 mm", "0.15 m/s")


# --- pump and hose --------------------------------------------------------------------------------


def test_speed_behind_hose(says):
    def left(bore, pressure):
        return effective_speed(0.8e-3, tube(AIR, bore, 1.0, pressure * MBAR)) / 0.8e-3

    assert [left(0.016, p) for p in (0.03, 0.05)] == near([0.5, 0.5], rel=0.1)
    assert [left(0.010, p) for p in (0.03, 0.05)] == near([1 / 6, 1 / 6], rel=0.12)
    says("1 m of 16 mm bore", "half of 0.8 l/s", "0.03 to 0.05 mbar", "10 mm about a sixth")


def test_hose_slows_the_end(says):
    """t = (V/S) ln(p0/p) with S behind the hose, at the mean pressure in it, over equal ratios."""

    def slowed(speed):
        steps = np.geomspace(ATMOSPHERE, 10 * MBAR, 200)
        left = [effective_speed(speed, tube(AIR, 0.010, 2.0, 0.75 * p)) for p in steps]
        return float(np.mean(speed / np.array(left)))

    assert [slowed(0.8e-3), slowed(3e-3)] == near([1.03, 1.13], abs=0.01)
    assert effective_speed(0.8e-3, tube(AIR, 0.010, 2.0, 6.0)) / 0.8e-3 == near(0.1, rel=0.05)
    says("2 m of 10 mm", "0.8 l/s by 3 %", "3 l/s by 13 %", "a tenth of 0.8 l/s at 0.1 mbar")


def test_opening_that_halves_speed(says):
    """In molecular flow; at higher pressure a smaller one passes as much."""
    assert orifice(2.5e-3, AIR.mean_speed(ROOM_TEMPERATURE)) < SPEED
    assert orifice(3e-3, AIR.mean_speed(ROOM_TEMPERATURE)) > SPEED
    says("3 mm", "0.7 l/s")


def test_time_with_ballast(says):
    seconds = [
        pump_down_time(VOLUME, SPEED, ATMOSPHERE, 0.1 * MBAR, end * MBAR).value
        for end in (0.005, 0.05)
    ]
    assert seconds == near([66, 71], abs=0.5)
    says("66 s", "0.005 mbar", "71 s", "0.05 mbar", "0.7 l/s")


def test_rise_tells_pump_from_leak(says):
    """p = p0 + Q/S, and the rise Q/V of the chamber when it is shut off."""
    leak, tight = 0.1 * MBAR * SPEED, 0.01 * MBAR * SPEED
    assert ultimate_pressure(0.0, leak, SPEED) == near(ultimate_pressure(0.09 * MBAR, tight, SPEED))
    assert leak / VOLUME * 60 / MBAR == near(0.84)
    assert throughput(VOLUME, 0.0, 0.084 * MBAR, 60) == near(tight)
    says("0.1 mbar", "0.84 mbar/min", "0.09 mbar", "a tenth of that")


def test_rise_behind_leaking_valve(says):
    """V dp/dt = Q - C p, with 0.05 l/s left through the seat."""
    settling = VOLUME / 0.05e-3
    assert settling == near(100)
    shown = settling * (1 - math.exp(-300 / settling))
    assert shown / 300 == near(1 / 3, rel=0.06)
    says("0.05 l/s", "100 s", "a third of the true rise")


def test_warm_pump_passes_water(says):
    pressures = [water_vapour_pressure(273.15 + t) / MBAR for t in (20, 70)]
    assert pressures == near([23, 312], rel=0.02)
    says("23 mbar at 20 degC", "312 mbar at 70 degC")


# --- load -----------------------------------------------------------------------------------------


def test_water_carried_off(says):
    moles = 0.1 * MBAR * SPEED / (GAS_CONSTANT * ROOM_TEMPERATURE)
    assert moles * WATER.molar_mass * 3600 * 1e3 == near(0.19, rel=0.02)
    says("0.7 l/s at 0.1 mbar", "0.19 g")


def test_water_boils_in_vacuum(says):
    pressures = [water_vapour_pressure(273.15 + t) / MBAR for t in (20, 0)]
    assert pressures == near([23, 6], rel=0.02)
    says("23 mbar at 20 degC", "6 mbar at 0 degC")


def test_ice_on_a_cooled_stage(says):
    """Murphy and Koop, Q. J. R. Meteorol. Soc. 131 (2005) 1539, equation 7 (from memory)."""
    kelvin = 253.15
    ln_pascal = 9.550426 - 5723.265 / kelvin + 3.53068 * math.log(kelvin) - 0.00728332 * kelvin
    assert math.exp(ln_pascal) / MBAR == near(1, rel=0.05)
    says("ice at -20 degC", "1 mbar")


def test_water_meets_chromium(says):
    """p / sqrt(2 pi m k T) of water against the atoms of chromium, 7.19 g/cm3."""
    density = 0.01 * MBAR / (BOLTZMANN * ROOM_TEMPERATURE)
    arriving = density * WATER.mean_speed(ROOM_TEMPERATURE) / 4  # molecules / m2 s
    chromium = 7.19e3 / 0.051996 * AVOGADRO * 0.1e-9  # atoms / m2 s
    assert arriving / chromium == near(4300, rel=0.02)
    says("0.01 mbar of water", "4300 molecules", "0.1 nm/s")


# --- gas and discharge ----------------------------------------------------------------------------


def test_argon_trickle(says):
    pressure = ultimate_pressure(0.0, 4 * SCCM, SPEED)
    assert pressure / MBAR == near(0.1, rel=0.04)
    says("4 sccm", "0.1 mbar at 0.7 l/s")


def test_argon_in_cylinder(says):
    litres = released_volume(0.01, 200e5) * 1e3
    assert litres == near(2100, rel=0.01)
    months = litres * 1e-3 * ATMOSPHERE / (4 * SCCM) / 86400 / 30.4
    assert months == near(11, abs=0.2)
    says("2100 litres", "11 months", "4 sccm")


def test_gas_that_stood_in_line(says):
    """p V of the line over p S of the glow."""
    stood = 1.5e5 * math.pi / 4 * 0.003**2 * 2.0
    assert stood / (0.08 * MBAR * SPEED) / 60 == near(6, rel=0.1)
    says("2 m of 3 mm", "1.5 bar", "0.08 mbar", "0.7 l/s", "6 minutes")


def test_flush_with_pump_running(says):
    assert swept_air_share(VOLUME, 1e-3, 15) == near(0.05, rel=0.02)
    assert swept_air_share(VOLUME, 1e-3, 15, 3) < 2e-4
    says("5 litres", "1 l/s", "15 s", "5 %", "0.02 %")


def test_argon_on_air_scale(says):
    assert true_pressure("argon", 0.05 * MBAR).value / MBAR == near(0.085)
    says("0.05 mbar", "0.085 mbar")


def test_too_little_gas(says):
    """Paschen's law over the coefficients and surfaces of `breakdown_band`."""
    assert breakdown_band("argon", 0.03 * MBAR, 0.05).low is None
    band = breakdown_band("argon", 0.2 * MBAR, 0.05)
    assert (band.low, band.high) == near((100, 210), rel=0.05)
    says("0.03 mbar", "5 cm", "0.2 mbar", "100 to 210 V")


def test_path_of_an_atom(says):
    path = mean_free_path(ARGON, 0.1 * MBAR)
    assert path * 1e3 == near(0.7, rel=0.02)
    assert 0.05 / path == near(70, rel=0.05)
    says("0.1 mbar", "0.7 mm", "some 70", "5 cm")


def test_current_with_pressure(says):
    assert same_voltage_current(1.0, 1.0, 1.2).value == near(1.44)
    says("a fifth more argon", "44 % more current")


def test_target_used_up(says):
    """I t Y M / (e N); yield 3.3 of gold at 1 keV (Yamamura & Tawara 1996)."""
    grams = 3.6 / ELECTRON / AVOGADRO * 3.3 * 196.97
    assert grams * 1e3 == near(24, rel=0.02)
    disc = math.pi * (TARGET / 10) ** 2 * 0.01 * 19.3  # 0.1 mm thick
    assert disc == near(4.9, rel=0.01)
    assert disc / grams == near(200, rel=0.02)
    says("24 mg", "0.1 mm", "200 mA h")


# --- where the metal goes, by line of sight -------------------------------------------------------


def on_axis(height):
    """Share of a cosine-emitting disc's metal on a flat patch on its axis: R^2 / (R^2 + h^2).

    Source: as the view factor of a disc: Howell, A Catalog of Radiation Configuration Factors,
    1982.
    """
    return TARGET**2 / (TARGET**2 + height**2)


def off_axis(distance, height):
    """As `on_axis` for a patch that lies off the axis."""
    h, r = height / distance, TARGET / distance
    z = 1 + h**2 + r**2
    return (1 - (z - 2 * r**2) / math.sqrt(z**2 - 4 * r**2)) / 2


def test_metal_off_axis(says):
    assert off_axis(1e-3, 50) == near(on_axis(50), rel=1e-3)
    assert off_axis(25, 50) / on_axis(50) == near(0.75, rel=0.01)
    says("57 mm", "50 mm", "25 mm off the axis", "75 %")


def test_metal_with_distance(says):
    assert [on_axis(h) / on_axis(50) for h in (30, 70)] == near([1.93, 0.58], rel=0.01)
    says("57 mm", "1.9 times", "30 mm", "0.6 times", "70 mm", "at 50 mm")


def test_metal_on_tilted_face(says):
    faces = [math.cos(math.radians(a)) for a in (45, 60, 75)]
    assert faces == near([0.71, 0.5, 0.26], abs=0.005)
    says("71, 50 and 26 %", "45, 60 and 75 degrees")


def test_metal_on_side_wall(says):
    """A wall on the axis sees half of the disc; checked against the sum over the disc."""
    h = 50 / TARGET
    wall = (math.atan(1 / h) - h / (1 + h**2)) / math.pi
    steps, total = 200, 0.0
    for i in range(steps):
        r = TARGET * (i + 0.5) / steps
        for k in range(steps):
            phi = math.pi * (k + 0.5) / steps - math.pi / 2
            square = r**2 + 50**2
            total += 50 * r * math.cos(phi) / (math.pi * square**2) * r * math.pi / steps
    total *= TARGET / steps
    assert wall == near(total, rel=0.01)
    assert wall / on_axis(50) == near(0.11, abs=0.005)
    says("57 mm", "50 mm", "11 %")


# --- charge and picture ---------------------------------------------------------------------------


def test_closed_path_of_any_quality(says):
    """V = (I Rs / 2 pi) ln(r2 / r1) from a spot of 0.5 um to a rim at 5 mm."""
    volts = 1e-9 * 1e9 / (2 * math.pi) * math.log(5e-3 / 0.5e-6)
    assert volts == near(1.5, rel=0.03)
    says("1 nA", "1e9 ohm", "1.5 V")


def test_charge_of_floating_piece(says):
    """Q = C V."""
    charge, capacitance = 1e-9 * 10e-3, 1e-12
    assert charge / capacitance == near(10)
    says("1 pF", "10 V in 10 ms at 1 nA")


def test_teeth_on_edges(says):
    """One tooth is one period of the field: lines a period = 1 / (f t)."""
    assert [1 / (50 * t) for t in (10e-3, 64e-6)] == near([2, 313], rel=0.01)
    says("50 Hz", "2 lines of 10 ms", "313 lines of 64 us")


# --- carbon, drops, sizes, the microscope ---------------------------------------------------------


def test_carbon_in_gas(says):
    assert mean_free_path(AIR, 0.05 * MBAR) * 1e3 == near(1.3, rel=0.1)
    assert mean_free_path(AIR, 1e-4 * MBAR) == near(0.7, rel=0.1)
    says("1.3 mm at 0.05 mbar", "0.7 m at 1e-4 mbar")


def test_small_carbon_source(says):
    """A tenth farther gives a fifth less, as a text says."""
    once, twice, tenth = (small_source_coat(1e-9, d) for d in (0.1, 0.2, 0.11))
    assert once / twice == near(4)
    assert tenth / once == near(0.8, abs=0.03)
    says("four times the carbon at twice the distance")


def test_drop_on_film(says):
    assert drop_width(2e-9, 30) * 1e3 == near(3.3, abs=0.05)
    assert drop_width(2e-9, 60) * 1e3 == near(2.5, abs=0.05)
    says("2 ul", "3.3 mm wide at 30 degrees", "2.5 mm at 60")


def test_coat_on_wire(says):
    assert coat_share(80, 10) == near(1 / 5)
    says("10 nm on a wire of 80 nm are a fifth")


def test_tilted_length(says):
    assert 1 - foreshortened(1, 30) == near(0.13, abs=0.005)
    says("13 % less at 30 degrees")


def test_field_and_distance(says):
    shift = field_shift(10e3, 1e-7, 0.01)
    assert shift * 1e9 == near(15, abs=0.5)
    assert field_shift(10e3, 1e-7, 0.005) / shift == near(1 / 4)
    says("half the distance is a quarter", "1 mG", "10 kV by 15 nm on 10 mm")


def test_useful_magnification(says):
    """From memory: the eye parts 0.2 mm at reading distance."""
    assert near(2e-9) == 0.2e-3 / 100_000
    says("0.2 mm", "100 000 times asks for 2 nm")


def test_paint_in_pores(says):
    """Jurin's law, a liquid that wets."""
    assert near(6, abs=0.4) == 2 * 0.025 / (900 * GRAVITY * 1e-6)
    says("0.025 N/m", "900 kg/m3", "6 m in a pore of 1 um")
