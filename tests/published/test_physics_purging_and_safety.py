"""Purging and oxygen deficiency against published numbers."""

import math

import pytest

from troubleshoot.physics.gases import GAS_CONSTANT
from troubleshoot.physics.purging import (
    CLEAN_ENOUGH,
    argon_used,
    cycles_needed,
    filled_air_share,
    leak_air_share,
    leak_allowed,
    swept_air_share,
)
from troubleshoot.physics.safety import (
    OXYGEN_IN_AIR,
    OXYGEN_TOO_LOW,
    oxygen_after_release,
    oxygen_with_ventilation,
)
from troubleshoot.units import to_si


@pytest.mark.parametrize(
    ("low", "high", "start", "target", "exact", "whole", "vessel_volumes"),
    [
        # Branan, Rules of Thumb for Chemical Engineers, dilution purging: 21 % to 1 % at half an
        # atmosphere, n 4.4, so 5, and 2.5 vessel volumes of gas.
        (0.5, 1, 0.21, 0.01, 4.4, 5, 2.5),
        # The same: 21 % to 5 ppm at 6 mmHg, n 2.20, so 3, and 2.976 vessel volumes.
        (6, 760, 0.21, 5e-6, 2.20, 3, 2.976),
    ],
)
def test_cycles(low, high, start, target, exact, whole, vessel_volumes):
    number = cycles_needed(low, high, start, target)
    assert number == pytest.approx(exact, rel=0.005)
    assert math.ceil(number) == whole
    assert filled_air_share(low, high, whole, start) <= target
    assert filled_air_share(low, high, whole - 1, start) > target
    assert argon_used(1, low, high, whole) / high == pytest.approx(vessel_volumes, rel=5e-4)


def test_cycles_of_a_storage_tank():
    # An exercise (scribd.com/doc/95193296/Sheet-7) whose answers are in Crowl and Louvar, Chemical
    # Process Safety, inerting; by hand: 1000 gal at 75 degF, 20 mmHg, 21 % to 1 ppm takes 3.37
    # cycles, so 4 and 1.33 lb-mol; 3.8 ppm is left after three and 0.10 ppm after four.
    assert cycles_needed(20, 760, 0.21, 1e-6) == pytest.approx(3.37, rel=1e-3)
    assert filled_air_share(20, 760, 3, 0.21) == pytest.approx(3.8e-6, rel=0.01)
    assert filled_air_share(20, 760, 4, 0.21) == pytest.approx(0.10e-6, rel=0.01)
    volume = 1000 * 231 * to_si(1, "in", "length") ** 3
    low, high = to_si(20, "mmHg", "pressure"), to_si(760, "mmHg", "pressure")
    moles = argon_used(volume, low, high, 4) / (GAS_CONSTANT * to_si(75, "degF", "temperature"))
    assert moles / 453.59237 == pytest.approx(1.33, rel=0.005)


def test_pressure_cycles():
    # The same sheet: filling to 5 atm and venting to 1, twice, takes 21 % to 0.84 %.
    # That takes 8 vessel volumes.
    assert filled_air_share(1, 5, 2, 0.21) == pytest.approx(0.0084, rel=1e-9)
    assert argon_used(1, 1, 5, 2) == pytest.approx(8, rel=1e-9)


def test_leak_a_pumped_system_can_stand():
    # common practice, no source: at most a tenth of working pressure times speed.
    pressure, speed = 10.0, 0.7e-3
    leak = leak_allowed(pressure, speed)
    assert leak == pytest.approx(0.1 * pressure * speed, rel=1e-9)
    assert leak_air_share(leak, pressure * speed - leak) == pytest.approx(CLEAN_ENOUGH)


def test_three_flushes_with_the_pump_shut_off():
    # common practice, no source: below 0.2 Torr, argon to midway between 0.2 and 0.5 Torr, three
    # times; nearly 19 % of the air stays.
    assert filled_air_share(0.2, 0.35, 3) == pytest.approx(0.19, abs=0.005)


@pytest.mark.parametrize("seconds", [10, 15])
def test_flushes_with_the_pump_running(seconds):
    # common practice, no source: sweeping a few litres for 10 to 15 s leaves some 3 to 10 %, three
    # sweeps well under 1 %.
    volume, speed = 3e-3, 0.7e-3
    assert 0.025 < swept_air_share(volume, speed, seconds) < 0.105
    assert swept_air_share(volume, speed, seconds, 3) < 0.005


def test_liquid_nitrogen_in_a_laboratory():
    # news.fnal.gov/2013/01/oxygen-deficiency-hazards/: 160 L of liquid nitrogen in a room of
    # 70 x 70 x 10 ft brings oxygen below 19.5 %. One litre gives 694 L of gas (from memory:
    # nitrogen at 20 degC and 1 atm).
    room = to_si(70 * 70 * 10, "ft3", "volume")
    oxygen = oxygen_after_release(0.160 * 694, room)
    assert 0.18 < oxygen < OXYGEN_TOO_LOW


def test_displacement_formula():
    # nottingham.ac.uk/safetyCalculators/Calc-chargedpressure.htm: %O2 = 100 x 0.2095 (Vr - Vg)/Vr.
    assert oxygen_after_release(9.87, 30) == pytest.approx(0.2095 * (30 - 9.87) / 30, rel=1e-12)


def test_steady_leak_in_a_ventilated_room():
    # casualprocessengineer.com, oxygen depletion: leak n = N V (1 - C/0.21); N 2 per hour, V
    # 100 m3, C 19.5 % gives 14.29 m3/h of a total outflow of N V.
    total = 2 * 100 / 3600
    leak = 14.29 / 3600
    share = oxygen_with_ventilation(leak, total - leak, 100)
    assert share / OXYGEN_IN_AIR == pytest.approx(0.195 / 0.21, rel=1e-3)


def test_limits():
    # bnl.gov/esh/shsd/programs/oxygen-deficiency.php, quoting 29 CFR 1910.146.
    assert OXYGEN_TOO_LOW == 0.195
