"""Numbers of a profile that cannot be, and ordinary ones that are left alone."""

import pytest

from troubleshoot.readings.profile import machine_from, queries

ORDINARY = {
    "volume": "5 L", "pump_speed": "0.8 L/s", "usual_base": "0.03 mbar",
    "usual_pressure": "0.1 mbar", "usual_current": "12 mA", "usual_time": "6 min",
    "isolation_valve": "yes", "gauge_side": "chamber",
}  # fmt: skip


def asked(**changed):
    return queries(machine_from({**ORDINARY, **changed}, "here"))


def test_an_ordinary_coater_is_left_alone():
    assert asked() == ()
    assert queries(machine_from({}, "here")) == ()


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
    ],
)
def test_each_odd_number_is_asked_about(changed, said):
    assert any(said in s for s in asked(**changed))


def test_numbers_are_shown_in_the_gauges_unit():
    (said,) = asked(gauge_unit="Torr", usual_base="0.05 Torr")
    assert "0.05 Torr is more than half of" in said
