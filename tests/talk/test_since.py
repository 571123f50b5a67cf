"""Since when: how it began, or an event with its day."""

import pytest

from tests.talk.scripted import OPENING, Talk
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine

EVENT = {
    **OPENING,
    "What is the trouble?": "slow_pump_down",
    "Since when?": "/event",
    "": "/stop",
    "?": "stop",
}


@pytest.fixture(scope="module")
def bench(rules):
    return Bench(rules, Machine())


@pytest.mark.parametrize(
    ("day", "kept"),
    [("3 May", " (3 May)"), ("Friday", " (Friday)"), ("", "")],
)
def test_an_event_is_kept_with_its_day_and_shifts_the_odds(bench, rules, day, kept):
    t = Talk(bench, {**EVENT, "What was done?": "seals_or_lid_touched", "On which day": day})
    t.run()
    assert t.entries("circumstance")[0]["circumstance"] == "seals_or_lid_touched"
    name = rules.circumstances["seals_or_lid_touched"].name
    assert [e["text"] for e in t.entries("since")] == [name + kept]
    assert "lid" in bench.assess(t.journal).situation.touched


def test_an_event_is_not_asked_again_in_the_list(bench):
    t = Talk(bench, {**EVENT, "What was done?": "pump_or_hose_touched", "On which day": ""})
    t.run()
    lists = [o for q, o in zip(t.asker.asked, t.asker.offered, strict=True) if "these hold" in q]
    assert lists
    assert all("pump_or_hose_touched" not in offered for offered in lists)


def test_what_no_list_holds_is_kept_as_it_was_said(bench):
    said = "the new caretaker, last week"
    t = Talk(bench, {**EVENT, "What was done?": "/other", "What was done, and when?": said})
    t.run()
    assert [e["text"] for e in t.entries("since")] == [said]
