"""What is out of the ordinary fits the case that it would begin."""

from troubleshoot.case.entries import Finding
from troubleshoot.coater.profile import machine_from
from troubleshoot.readings.quantity import read_quantity
from troubleshoot.upkeep.health import WATCHED
from troubleshoot.upkeep.run import Run
from troubleshoot.upkeep.unusual import CURRENT, TELLS, unusual


def test_every_watched_number_tells_a_finding_of_the_rules(rules):
    assert {*TELLS, "current"} == set(WATCHED)
    for tells in TELLS.values():
        assert rules.is_in_world(tells.finding, tells.complaint)
        assert rules.findings[tells.finding].quantity
    assert {"low", "high"} <= set(rules.findings[CURRENT].answers)


def test_a_profile_says_what_is_usual_while_the_log_is_short(rules):
    """A coater whose good day is 12 minutes is not out of the ordinary at 14."""
    slow = machine_from({"name": "slow", "usual_time": "12 min"}, "here")
    run = Run("2026-01-05T09:00:00", "run", {"time": 14 * 60.0})
    assert unusual(run, {}, slow, rules.findings) == []
    assert unusual(run, {}, machine_from({"name": "other"}, "here"), rules.findings)


def test_what_is_told_can_be_entered_in_the_unit_of_the_gauge(rules):
    torr = machine_from({"name": "ours", "gauge_unit": "Torr"}, "here")
    run = Run("2026-01-05T09:00:00", "check_up", {"base": 100.0, "rise": 10.0})
    for odd in unusual(run, {}, torr, rules.findings):
        assert "Torr" in odd.quantity
        Finding(finding=odd.finding, quantity=odd.quantity).must_fit(rules)
        read_quantity(rules.findings[odd.finding], odd.quantity)
