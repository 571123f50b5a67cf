"""Numbers of a profile that cannot be, and ordinary ones that are left alone."""

import pytest

from troubleshoot.coater.profile import (
    as_shown,
    hose_share,
    machine_from,
    notes,
    queries,
    typed_value,
)
from troubleshoot.errors import UserError

ORDINARY = {
    "volume": "5 L", "pump_speed": "0.8 L/s", "usual_base": "0.03 mbar",
    "usual_pressure": "0.1 mbar", "usual_current": "12 mA", "usual_time": "6 min",
    "isolation_valve": "yes", "gauge_side": "chamber", "head": "diode", "target": "gold",
    "gauge_kind": "heat_loss", "gauge_gas": "air", "process_gas": "argon",
    "hose_diameter": "25 mm", "hose_length": "1 m", "target_radius": "25 mm", "distance": "50 mm",
    "usual_voltage": "900 V", "usual_rise": "0.1 mbar/min",
    "cylinder": "10 L", "fill_pressure": "200 bar", "room": "60 m3",
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


def test_defaults_are_not_asked_about_and_give_way():
    odd = {"defaults": {"volume": "3 L", "pump_speed": "200 L/s"}}
    assert queries(machine_from(odd, "here")) == ()
    told = machine_from(odd | {"pump_speed": "1 L/s"}, "here")
    assert told.defaults == {"volume": "3 L"}
    assert as_shown(told, "volume") == "3 L (default, not measured)"
    assert as_shown(told, "pump_speed") == "1 L/s"
    assert as_shown(told, "room") is None
    assert hose_share(machine_from({"defaults": {"hose_diameter": "16 mm", "hose_length": "1 m"},
                                    "pump_speed": "1 L/s"}, "here")) is None  # fmt: skip


@pytest.mark.parametrize(
    ("defaults", "said"),
    [("3 L", "keys with values"), ({"volume": "3 mbar"}, "volume"), ({"volme": "3 L"}, "'volume'"),
     ({"gauge_kind": "wet"}, "heat_loss"), ({"name": "x"}, "unknown key 'name'")],
)  # fmt: skip
def test_what_no_default_can_be(defaults, said):
    with pytest.raises(UserError, match=said) as error:
        machine_from({"defaults": defaults}, "here")
    assert "key defaults" in str(error.value)


def test_a_number_of_zero_is_refused():
    with pytest.raises(UserError, match="key usual_base: '0 mbar' is not above zero"):
        machine_from({"usual_base": "0 mbar"}, "here")


def test_a_hose_takes_more_at_a_lower_pressure_and_a_smaller_bore():
    def share(**changed):
        return hose_share(machine_from({**ORDINARY, **changed}, "here"))

    assert share(usual_base="0.1 mbar") > share() > share(usual_base="0.01 mbar")
    assert share() > share(hose_diameter="16 mm") > share(hose_diameter="10 mm")
    # A hose of next to no length leaves what its mouth in molecular flow leaves at least:
    # air, 25 mm: 116 m/s x 4.9 cm2 = 57 L/s beside 0.8 L/s.
    assert share(hose_length="1 mm") == pytest.approx(57 / 57.8, abs=0.015)


def test_true_pressure_is_told_where_the_gauge_is_scaled_for_another_gas():
    (true, hose) = notes(machine_from(ORDINARY, "here"))
    assert "0.1 mbar is about 0.17 mbar of argon (within 20 %)" in true
    assert "of the pump's speed" in hose
    for other in ({"gauge_kind": "capacitance"}, {"gauge_gas": "argon"}, {"process_gas": "air"}):
        assert not any("of argon" in s for s in notes(machine_from({**ORDINARY, **other}, "x")))
    taken = {"usual_pressure": "0.1 mbar", "gauge_gas": "air", "process_gas": "argon",
             "defaults": {"gauge_kind": "heat_loss"}}  # fmt: skip
    (unsure,) = notes(machine_from(taken, "here"))
    assert "if gauge kind is as assumed" in unsure


def test_a_cylinder_too_large_for_its_room_is_said_plainly():
    """10 L at 200 bar are 2.1 m3: 20.95 % (1 - 2.1/25) = 19.2 %, below 19.5 %."""
    said = [s for s in notes(machine_from({**ORDINARY, "room": "25 m3"}, "x")) if "oxygen" in s]
    assert len(said) == 1
    assert "19.2 %" in said[0]
    assert "local rules" in said[0]
    assert not any("oxygen" in s for s in notes(machine_from(ORDINARY, "x")))
    small = {"cylinder": "10 L", "room": "20 m3", "defaults": {"fill_pressure": "200 bar"}}
    assert "10 L at 200 bar, a default: " in notes(machine_from(small, "x"))[0]
    assert not notes(machine_from({**small, "defaults": {}}, "x"))


@pytest.mark.parametrize(
    ("key", "typed", "kept"),
    [("volume", "5", "5 L"), ("room", "40 m3", "40 m3"), ("room", "40", "40 m3"),
     ("usual_time", "6", "6 min"), ("usual_time", "5:30", "5:30"),
     ("usual_base", "1e-2", "1e-2 Torr"),
     ("usual_rise", "0.1", "0.1 Torr/min"), ("usual_rise", "0.1 mbar", "0.1 mbar/min"),
     ("usual_rise", "20 Pa/min", "20 Pa/min"), ("gauge_kind", "heat loss", "heat_loss"),
     ("target", "Gold-Palladium", "gold_palladium")],
)  # fmt: skip
def test_what_is_typed_is_kept_with_its_unit(key, typed, kept):
    assert typed_value(key, typed, "Torr") == kept
    machine_from({key: kept}, "here")


def test_a_bare_pressure_without_a_known_gauge_is_refused():
    with pytest.raises(UserError, match="has no unit"):
        typed_value("usual_base", "0.05", None)


def test_a_bare_pump_speed_is_refused():
    """4 on a plate is m3/h as a rule, and would be 14 m3/h in litres a second."""
    with pytest.raises(UserError, match="has no unit"):
        typed_value("pump_speed", "4", "mbar")
