"""What was kept or written by an older version still opens.

`fixtures/` holds one of each kind, as it was written then, and is added to but never changed: a
journal with every kind of entry, and a case file with every key, its machine and a log beside it.
"""

import json
from pathlib import Path

import pytest

from tests.case.records import from_records
from troubleshoot.advice.said import line_of
from troubleshoot.case import casefile
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import KINDS, Parked, keys
from troubleshoot.case.journal import as_records, check_all
from troubleshoot.case.known import replay
from troubleshoot.coater.machine import Machine
from troubleshoot.strict_yaml import read

FIXTURES = Path(__file__).parent / "fixtures"
JOURNALS = sorted(FIXTURES.glob("*.json"))
NOW = "2026-01-05T09:00:00"


def kept(path):
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def known(small_rules):
    """What is known from the journal of every kind."""
    return replay(from_records(kept(FIXTURES / "every_kind.json")), small_rules, Machine())


@pytest.fixture(scope="module")
def case(small_rules):
    """The case file with every key."""
    return read_case(FIXTURES / "every_key.yaml", small_rules, NOW)


# --- journals ----------------------------------------------------------------------------------


def test_every_kind_of_entry_and_every_key_of_it_is_kept_in_some_fixture():
    found = {}
    for path in JOURNALS:
        for record in kept(path):
            found.setdefault(record["kind"], set()).update(record["data"])
    assert found == {kind: frozenset().union(*keys(said)) for kind, said in KINDS.items()}


@pytest.mark.parametrize("path", JOURNALS, ids=lambda p: p.stem)
def test_a_kept_journal_fits_and_is_written_again_as_it_was(path, small_rules):
    journal = from_records(kept(path))
    check_all(journal, small_rules)
    assert as_records(journal) == kept(path)


@pytest.mark.parametrize("path", JOURNALS, ids=lambda p: p.stem)
def test_a_kept_journal_is_diagnosed(path, small_rules):
    case = Bench(small_rules, Machine()).assess(from_records(kept(path)))
    assert case.known.complaint == "slow"


def test_it_tells_who_asks_and_of_what(known):
    assert (known.name, known.complaint, known.words) == (
        "Damp Monday", "slow", "it takes for ever",
    )  # fmt: skip
    assert (known.role, known.irreplaceable, known.since) == ("experienced", True, "this week")
    assert known.circumstances == {"dusty_room": "yes", "vent_touched": "unknown"}


def test_it_tells_what_was_seen(known):
    """The second look at the seal replaces the first; the log, read later, the gauge."""
    assert [(s.finding, s.answer, s.origin, s.epoch) for s in known.seen] == [
        ("seal", "torn", "told", 0), ("base", "raised", "reading", 0),
    ]  # fmt: skip
    assert known.unknown == [(0, "lamp")]


def test_it_tells_what_was_done_and_what_was_not(known):
    done, looked_again = known.treatments
    assert (done.action, done.complaint_now, done.value) == (
        "wipe_seal", "better", "from 0.4 to 0.2 mbar",
    )  # fmt: skip
    assert looked_again is None
    assert known.cannot == {"press_specimen": "no needle"}
    assert known.later == [(0, "look_round")]
    assert known.go_on == {"accept_normal"}
    assert known.workarounds == ["wait_longer"]
    assert known.state == "pumped"
    assert known.notes == ["The lid was slow to lift."]


def test_it_tells_of_danger_and_of_repair(known):
    """A sign that is not seen any more is no repair."""
    assert list(known.signs) == ["smell"]
    assert list(known.made_safe) == ["smoke"]
    assert list(known.repaired) == ["implosion"]


def test_it_is_parked_and_its_end_was_taken_back(known):
    assert known.closed is None
    assert known.parked == Parked(
        action="wait_an_hour", until="2026-03-02T11:00", note="over lunch"
    )


def test_it_tells_where_somebody_wavered(small_rules):
    known = replay(from_records(kept(FIXTURES / "wavering.json")), small_rules, Machine())
    assert known.fairly == {"dusty_room"}
    knob, base = known.seen
    assert (knob.answer, knob.others, knob.sure) == ("shut", ("open",), "fairly")
    assert (base.answer, base.quantity) == ("usual", "60 to 70 mTorr")


def test_it_tells_which_kind_of_specimen_is_meant(small_rules):
    journal = from_records(kept(FIXTURES / "kind_of_specimen.json"))
    known = replay(journal, small_rules, Machine())
    assert (known.specimen, known.irreplaceable) == ("shells", False)
    assert "shells on a slip" in line_of(journal[2].said, small_rules, Machine())


# --- case files --------------------------------------------------------------------------------


def test_every_key_of_a_case_file_is_in_the_fixture():
    data = read(FIXTURES / "every_key.yaml").data
    assert set(data) == set(casefile.HEAD)
    assert set(data["outcome"]) == set(casefile.OUTCOME)
    items = data["journal"]
    assert set(casefile.ITEMS) <= {key for item in items for key in item}
    readings = [item for item in items if {"reading", "points"} & set(item)]
    assert {key for item in readings for key in item} == set(casefile.READING_KEYS)


def test_every_key_becomes_its_entry(case):
    assert [e.kind for e in case.journal] == [
        "opened", "role", "state", "since", "specimen", "sign", "complaint", "circumstance",
        "made_safe", "repaired", "finding", "finding", "finding", "reading", "reading", "reading",
        "reading", "circumstance", "sign", "cannot", "later", "action", "epoch", "state",
        "workaround", "note", "closed",
    ]  # fmt: skip
    assert case.outcome == {
        "causes": ["dust_on_seal"], "nothing_wrong": False, "cured": True, "stop": "smoke",
    }  # fmt: skip


def test_the_machine_beside_it_is_read_with_every_key(case):
    told = read(FIXTURES / "every_key_machine.yaml").data
    assert case.machine.as_dict() == told
    assert case.machine.numbers["volume"] == pytest.approx(5e-3)
    assert case.machine.numbers["pump_speed"] == pytest.approx(4 / 3600)


def test_the_log_beside_it_is_read_in_the_units_that_are_said(case):
    """The chamber's column rises by 7.8 mbar in three minutes, which is 4.3 Pa a second."""
    log, volts, pair, typed = [e.data for e in case.journal if e.kind == "reading"]
    assert log["source"] == "every_key_rise.csv"
    rate, _, unit = log["numbers"]["rise_in_one_minute"]
    assert (rate, unit) == (pytest.approx(7.8175 * 100 / 180, rel=0.05), "Pa/s")
    rate, _, unit = volts["numbers"]["rise_in_one_minute"]
    assert (rate, unit) == (pytest.approx(2.6 * 100 / 60, rel=0.05), "Pa/s")
    assert (pair["what"], pair["source"]) == ("two micrographs", "every_key_slow.png")
    assert (typed["source"], typed["points"][:12]) == ("typed", "0 s 1000 mba")


def test_it_is_diagnosed_like_any_other(case, small_rules):
    found = Bench(small_rules, case.machine).assess(case.journal)
    assert found.known.closed.cause == "dust_on_seal"
