"""The coater on paper: what was told, what is a default, and what follows from it."""

import pytest

from troubleshoot.advice.page import page_of
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.fields import FIELDS
from troubleshoot.coater.profile import machine_from
from troubleshoot.show.html import content, paper
from troubleshoot.show.html import pages as html

PROFILE = {
    "name": "ours", "usual_rise": "0.1 mbar/min", "usual_voltage": "800 V", "distance": "45 mm",
    "target": "gold_palladium", "usual_pressure": "0.1 mbar",
    "cylinder": "50 L", "room": "50 m3",
    "defaults": {"volume": "3 L", "gauge_kind": "heat_loss", "gauge_gas": "air",
                 "process_gas": "argon", "fill_pressure": "200 bar"},
}  # fmt: skip


@pytest.fixture(scope="module")
def bench(rules):
    return Bench(rules, machine_from(PROFILE, "here"))


def test_a_default_is_called_one_and_not_known_as_this_coaters(bench):
    lines = {line.label: line for line in content.coater(bench.assess(()))}
    volume, distance = lines[FIELDS["volume"].label], lines[FIELDS["distance"].label]
    assert (volume.value, volume.default) == ("3 L (default, not measured)", True)
    assert (distance.value, distance.default) == ("45 mm", False)
    assert lines[FIELDS["target"].label].value == "gold palladium"
    assert lines[FIELDS["gauge_kind"].label].default
    # No pump speed was told and none taken: nothing is known of it.
    assert lines[FIELDS["pump_speed"].label].value == "not known"


def test_the_unit_of_the_gauge_is_assumed_until_it_is_told(rules):
    """A profile that tells other things has not told it."""
    told = {"name": "ours", "volume": "5 L"}
    for profile, shown in (
        ({}, ("mbar assumed", True)),
        (told, ("mbar assumed", True)),
        ({**told, "gauge_unit": "mbar"}, ("mbar", False)),
    ):
        lines = content.coater(Bench(rules, machine_from(profile, "here")).assess(()))
        (unit,) = [line for line in lines if line.label == FIELDS["gauge_unit"].label]
        assert (unit.value, unit.default) == shown


def test_the_usual_rise_is_assumed_only_where_it_is_not_told(bench, rules):
    bare = content.coater(Bench(rules, machine_from({}, "here")).assess(()))
    assert {line.label: line.value for line in bare}[FIELDS["usual_rise"].label] == (
        "0.12 mbar/min assumed"
    )
    own = {line.label: line.value for line in content.coater(bench.assess(()))}
    assert own[FIELDS["usual_rise"].label] == "0.1 mbar/min"


def test_what_is_assumed_is_in_the_unit_of_the_gauge(rules):
    """0.12 mbar in a minute are 12 Pa in a minute."""
    lines = content.coater(Bench(rules, machine_from({"gauge_unit": "Pa"}, "here")).assess(()))
    rise = {line.label: line.value for line in lines}[FIELDS["usual_rise"].label]
    assert rise == "12 Pa/min assumed"


def test_the_report_says_what_follows_and_the_service_sheet_only_what_is_known(bench):
    case = bench.assess(())
    report = html.render(page_of(case, ()), made_at="2026-03-02")
    assert "about 0.17 mbar of argon" in report
    # 10.5 m3 in 50: 20.95 % (1 - 0.21) = 16.6 %
    assert "would fall to about 16.6 %" in report
    sheet = html.service_sheet(page_of(case, ()), made_at="2026-03-02")
    assert "not measured" not in sheet
    assert "would fall" not in sheet


def test_the_service_sheet_has_the_usual_rise_and_voltage(bench):
    usual = {r.label: r.usual for r in paper.readings(bench.assess(()))}
    assert usual["Rate of rise, pump shut off"] == "0.1 mbar/min"
    assert usual["Volts with high voltage on"] == "800 V"
