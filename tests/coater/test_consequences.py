"""What follows from a profile: the hose's share, the true pressure, oxygen in the room."""

import pytest

from tests.coater.ordinary import ORDINARY
from troubleshoot.coater.consequences import hose_share, notes
from troubleshoot.coater.profile import machine_from


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


def test_nothing_follows_for_the_hose_from_sizes_that_are_defaults():
    taken = {"defaults": {"hose_diameter": "16 mm", "hose_length": "1 m"}, "pump_speed": "1 L/s"}
    assert hose_share(machine_from(taken, "here")) is None
