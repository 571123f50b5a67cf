"""What is typed for a key, what a default may be, and that it gives way to what was told."""

import pytest

from troubleshoot.coater.fields import NUMBERS
from troubleshoot.coater.profile import as_shown, machine_from, typed_value
from troubleshoot.errors import UserError


def test_a_default_gives_way_and_is_marked():
    data = {"defaults": {"volume": "3 L", "pump_speed": "200 L/s"}, "pump_speed": "1 L/s"}
    told = machine_from(data, "here")
    assert told.defaults == {"volume": "3 L"}
    assert as_shown(told, "volume") == "3 L (default, not measured)"
    assert as_shown(told, "pump_speed") == "1 L/s"
    assert as_shown(told, "room") is None


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


@pytest.mark.parametrize("key", NUMBERS)
@pytest.mark.parametrize("number", ["0", "-1", "1e308", "1e-300", "nan", "inf"])
def test_a_number_that_no_coater_has_is_refused_by_its_key(key, number):
    usual = typed_value(key, NUMBERS[key].example, "mbar")
    unit = usual.partition(" ")[2]
    with pytest.raises(UserError, match=f"key {key}: "):
        machine_from({key: f"{number} {unit}"}, "profile")
    assert machine_from({key: usual}, "profile").numbers[key] > 0
