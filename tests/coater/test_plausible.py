"""Numbers of a profile that cannot be, and ordinary ones that are left alone."""

import pytest

from tests.coater.ordinary import ORDINARY
from troubleshoot.coater.plausible import queries
from troubleshoot.coater.profile import machine_from


def asked(**changed):
    return queries(machine_from({**ORDINARY, **changed}, "here"))


def test_an_ordinary_coater_is_left_alone():
    assert asked() == ()
    assert queries(machine_from({}, "here")) == ()


def test_a_turbo_pump_brings_a_base_that_no_other_pump_does():
    """At 3e-6 mbar a unit is in doubt without one, and below 1e-7 mbar with one too."""
    assert any("is unusual" in s for s in asked(usual_base="3e-6 mbar"))
    assert not any("is unusual" in s for s in asked(usual_base="3e-6 mbar", turbo="yes"))
    assert any("is unusual" in s for s in asked(usual_base="3e-9 mbar", turbo="yes"))


def test_a_pump_far_too_large_for_its_bell():
    said = asked(volume="3 L", pump_speed="200 L/s")
    assert any("very large for 3 L" in s for s in said)
    assert any("is the unit right" in s for s in said)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"volume": "5 mL"}, "volume of 0.005 L"),
        ({"pump_speed": "0.01 L/s"}, "very small"),
        ({"usual_base": "3e-6 mbar"}, "3e-06 mbar"),
        ({"usual_base": "0.2 mbar"}, "is not below"),
        ({"usual_base": "0.08 mbar"}, "more than half"),
        ({"usual_pressure": "10 mbar"}, "coating pressure of 10 mbar"),
        ({"usual_current": "12 A"}, "12000 mA"),
        ({"usual_time": "30 s"}, "too quick"),
        ({"usual_time": "6 h"}, "360 min"),
        ({"isolation_valve": "no", "gauge_side": "pump"}, "said to be none"),
        ({"gauge_side": "pump"}, "A rise can only be read with"),
        ({"hose_diameter": "10 mm"}, "10 mm bore and 1 m length leaves only 1"),
        ({"hose_diameter": "25 cm"}, "bore of 250 mm"),
        ({"hose_length": "40 m"}, "length of 40 m"),
        ({"distance": "5 mm"}, "distance from target to specimen of 5 mm"),
        ({"distance": "110 mm"}, "very thin"),
        ({"target_radius": "57 mm", "distance": "40 mm"}, "radius, not the diameter"),
        ({"usual_voltage": "9 V"}, "voltage of 9 V"),
        ({"usual_voltage": "2.5 kV", "head": "magnetron"}, "below 1 kV as a rule"),
        ({"usual_rise": "2 mbar/min"}, "rise of 2 mbar/min is unusual"),
        # 5 L at 0.3 L/s: 0.55 mbar/min x 16.7 s / 60 = 0.15 mbar at least.
        ({"usual_rise": "0.55 mbar/min", "pump_speed": "0.3 L/s"}, "hold the base at 0.153 mbar"),
        ({"target": "chromium"}, "more than a tenth of"),
        ({"process_gas": "air"}, "to have an argon cylinder"),
        ({"room": "5000 m3"}, "room's volume of 5000 m3"),
        ({"cylinder": "500 L"}, "cylinder's volume of 500 L"),
        ({"fill_pressure": "2000 bar"}, "pressure of 2000 bar"),
    ],
)
def test_each_odd_number_is_asked_about(changed, said):
    assert any(said in s for s in asked(**changed))


def test_numbers_are_shown_in_the_gauges_unit():
    (said,) = asked(gauge_unit="Torr", usual_base="0.05 Torr")
    assert "0.05 Torr is more than half of" in said


def test_defaults_are_not_asked_about():
    odd = {"defaults": {"volume": "3 L", "pump_speed": "200 L/s"}}
    assert queries(machine_from(odd, "here")) == ()
