"""The list of cases says of each what its journal says, after every entry."""

import json
from dataclasses import asdict, fields
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from tests.case.records import from_records
from troubleshoot.case.journal import Entry
from troubleshoot.case.known import replay
from troubleshoot.casebook.record import LONGEST_PAUSE, CaseRow, listed, remedies, row_of
from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError

EVERY_KIND = Path(__file__).parent.parent / "case" / "fixtures" / "every_kind.json"
OPENED = "2026-03-02T08:59:00"
KINDS = {
    "complaint": {"complaint": "slow"},
    "finding": {"finding": "knob", "answer": "open"},
    "note": {"text": "so"},
    "parked": {"action": "wait_an_hour", "until": "2026-03-02T11:00"},
    "closed": {"outcome": "cured", "cause": "vent_open"},
}
RETRACT = st.integers(0, 11).map(lambda n: ("retract", {"entry": n}))
ENTRY = st.one_of(st.sampled_from(list(KINDS.items())), RETRACT)


def replayed(journal, rules):
    """What the list should say, by the replay that the diagnosis itself goes by."""
    known = replay(journal, rules, Machine())
    parked = known.parked.record() if known.parked else {}
    closed = known.closed.record() if known.closed else {}
    return {
        "last_at": journal[-1].at if journal else OPENED,
        "complaint": known.complaint,
        "status": "closed" if closed else "parked" if parked else "open",
        "parked_until": parked.get("until"),
        "parked_on": parked.get("action"),
        "outcome": closed.get("outcome"),
        "cause": closed.get("cause"),
        "entries": len(journal),
    }


COMPARED = (
    "last_at",
    "complaint",
    "status",
    "parked_until",
    "parked_on",
    "outcome",
    "cause",
    "entries",
)


def row(store):
    (case,) = store.cases()
    return {k: v for k, v in asdict(case).items() if k in COMPARED}


@pytest.mark.parametrize("more", [[], [("retract", n) for n in range(32, -1, -1)]])
def test_the_record_is_true_after_every_kind_of_entry(small_rules, more):
    """And while all of them are taken back again, one by one."""
    kept = from_records(json.loads(EVERY_KIND.read_text()))
    kept += tuple(
        Entry(len(kept) + n, f"2026-03-02T10:{n:02}:00", kind, {"entry": entry})
        for n, (kind, entry) in enumerate(more)
    )
    store = Store("sqlite://")
    case = store.new_case("one", OPENED, Machine())
    assert row(store) == replayed((), small_rules)
    statuses = set()
    for n, entry in enumerate(kept, start=1):
        store.save(case, entry)
        assert row(store) == replayed(kept[:n], small_rules), entry
        statuses.add(row(store)["status"])
    assert statuses == {"open", "parked", "closed"}


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(entries=st.lists(ENTRY, max_size=12))
@example([("parked", KINDS["parked"]), ("note", KINDS["note"])])
@example([("closed", KINDS["closed"]), ("retract", {"entry": 0}), ("retract", {"entry": 1})])
@example([("parked", KINDS["parked"]), ("finding", KINDS["finding"]), ("retract", {"entry": 1})])
def test_whatever_is_taken_back(small_rules, entries):
    """A retracted retraction lets the first entry stand; taking an answer back parks again."""
    journal = tuple(
        Entry(n, f"2026-03-02T09:{n:02}:00", kind, data)
        for n, (kind, data) in enumerate(entries)
        if kind != "retract" or data["entry"] < n
    )
    journal = tuple(Entry(n, e.at, e.kind, e.data) for n, e in enumerate(journal))
    found = listed(journal, OPENED)
    assert {k: found[k] for k in COMPARED} == replayed(journal, small_rules)


def test_the_list_reads_no_journal(monkeypatch):
    """The list is one query of one table: it stands even where the entries cannot be read."""
    store = Store("sqlite://")
    case = store.new_case("one", OPENED, Machine())
    store.save(case, Entry(0, OPENED, "complaint", {"complaint": "slow"}))
    with store.reading() as db:
        db.exec_driver_sql("DROP TABLE entries")
    assert row(store)["complaint"] == "slow"


def test_an_entry_whose_record_cannot_be_written_is_not_kept_either():
    store = Store("sqlite://")
    case = store.new_case("one", OPENED, Machine())
    with pytest.raises(UserError, match="outcome"):
        store.save(case, Entry(0, OPENED, "closed", {}))
    assert store.journal(case) == ()
    assert row(store)["entries"] == 0


def journal(*entries):
    """Entries ten minutes apart."""
    return tuple(
        Entry(n, f"2026-03-02T{9 + n // 6:02}:{n % 6}0:00", kind, data)
        for n, (kind, data) in enumerate(entries)
    )


CLOSED = {"outcome": "cured", "cause": "vent_open"}


@pytest.mark.parametrize(
    ("closed", "proved"),
    [
        (CLOSED | {"proved_by": "fault seen"}, 1),
        (CLOSED | {"proved_by": "not proved"}, 0),
        (CLOSED, 0),
        ({"outcome": "cured", "proved_by": "fault seen"}, 0),
    ],
)
def test_a_cause_is_proved_only_if_somebody_says_how(closed, proved):
    assert listed(journal(("closed", closed)), OPENED)["proved"] == proved


def test_the_last_title_and_role_stand_and_can_be_taken_back():
    entries = [
        ("title", {"text": "one"}),
        ("title", {"text": "two"}),
        ("role", {"role": "student"}),
    ]
    assert listed(journal(*entries), OPENED)["title"] == "two"
    assert listed(journal(*entries), OPENED)["role"] == "student"
    assert listed(journal(*entries, ("retract", {"entry": 1})), OPENED)["title"] == "one"


def test_minutes_are_what_was_told_or_the_time_between_entries_without_long_pauses():
    note = ("note", {"text": "so"})
    assert listed(journal(note, note, note), OPENED)["minutes"] == 20.0
    told = journal(note, ("closed", CLOSED | {"minutes": 45}))
    assert listed(told, OPENED)["minutes"] == 45.0
    over_night = (*journal(note), Entry(1, "2026-03-03T09:00:00", "note", {"text": "so"}))
    assert listed(over_night, OPENED)["minutes"] == LONGEST_PAUSE
    afterwards = journal(note, ("closed", CLOSED), note, note)
    assert listed(afterwards, OPENED)["minutes"] == 10.0
    assert listed(afterwards, OPENED)["closed_at"] == "2026-03-02T09:10:00"


def test_what_was_tried_is_what_still_stands():
    cured = ("action", {"action": "wipe", "complaint_now": "cured"})
    tried = journal(("action", {"action": "look"}), cured, cured, ("retract", {"entry": 2}))
    assert remedies(tried) == [{"number": 1, "action": "wipe", "complaint_now": "cured"}]


@pytest.mark.parametrize(
    "spoilt", [{"status": "opne"}, {"opened_at": None}, {"complaint": b"x"}, {"entries": None}]
)
def test_a_damaged_row_is_unreadable_and_keeps_its_number(spoilt):
    whole = {f.name: None for f in fields(CaseRow)} | {"id": 7, "name": "one", "opened_at": OPENED}
    whole |= {"last_at": OPENED, "status": "open", "entries": 3, "proved": 1}
    assert (row_of(whole).status, row_of(whole).proved) == ("open", True)
    found = row_of(whole | spoilt)
    assert (found.id, found.status, found.name) == (7, "unreadable", "one")
