"""Casebooks go out as lines and come back whole; hostile and broken lines do no harm."""

import json

import pytest

from tests.casebook.made import AT, CLOSED, SLOW, keep
from troubleshoot.case.journal import Entry
from troubleshoot.casebook import attachments, share, sheet
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.coater.machine import Machine
from troubleshoot.upkeep.run import Run


def lines(store, **given):
    return list(share.lines(store, Wanted(**given), AT, whole=not given))


@pytest.fixture
def book(named):
    """A casebook with two cases, a photograph, a machine and a run."""
    store = Store(named)
    keep(store, SLOW, CLOSED, title="one")
    case = keep(store, SLOW, ("note", {"text": "flakes"}))
    photo = Entry(2, AT, "file", {"name": "a.jpg", "sha256": attachments.digest(b"x"), "size": 1})
    attachments.attach(store, case, photo, b"x")
    store.save_machine(Machine(name="ours"))
    store.save_run("ours", Run(AT, "run", {"base": 5.0}))
    return store


def test_all_comes_back_as_it_was(book, other):
    """Numbers too, where they are free; so `export` and `import` are backup and restore."""
    again = Store(other)
    taken = share.take(again, lines(book))
    assert (len(taken.new), taken.machines, taken.runs, taken.files) == (2, 1, 1, 1)
    assert again.cases() == book.cases()
    for case in (1, 2):
        assert again.journal(case) == book.journal(case)
        assert again.machine_of(case) == book.machine_of(case)
        assert again.key_of(case) == book.key_of(case)
    assert again.machines() == book.machines()
    assert again.runs("ours") == book.runs("ours")
    assert attachments.content_of(again, attachments.digest(b"x")) == b"x"
    assert [c.id for c in again.cases(Wanted(words="flakes"))] == [2]
    assert lines(again)[1:] == lines(book)[1:]


def test_a_second_time_changes_nothing(book, other):
    again = Store(other)
    share.take(again, lines(book))
    before = again.cases()
    taken = share.take(again, lines(book))
    assert (taken.new, taken.longer, taken.same, taken.runs, taken.files) == ([], [], 2, 0, 0)
    assert again.cases() == before


def test_the_same_book_taken_into_itself_changes_nothing(book):
    before = book.cases()
    assert share.take(book, lines(book)).same == 2
    assert book.cases() == before


def test_two_books_are_joined_and_new_numbers_are_given(book, other):
    second = Store(other)
    keep(second, SLOW, title="theirs")
    taken = share.take(book, lines(second))
    assert taken.new == [3]
    assert {c.title for c in book.cases()} == {"one", None, "theirs"}
    assert keep(book, SLOW) == 4  # the next case of our own


def test_what_went_on_over_there_is_added(book, other):
    there = Store(other)
    share.take(there, lines(book))
    there.save(2, Entry(3, AT, *CLOSED))
    taken = share.take(book, lines(there))
    assert (taken.longer, taken.same, taken.conflicts) == ([2], 1, [])
    assert book.case(2).status == "closed"
    assert share.take(there, lines(book)).same == 2


def test_what_went_on_differently_is_a_conflict_and_stays(book, other):
    there = Store(other)
    share.take(there, lines(book))
    there.save(2, Entry(3, AT, "note", {"text": "theirs"}))
    book.save(2, Entry(3, AT, "note", {"text": "ours"}))
    taken = share.take(book, lines(there))
    (said,) = taken.conflicts
    assert "case 2 went on differently here and there from entry 3 on" in said
    assert book.journal(2)[3].data == {"text": "ours"}


def test_names_of_people_stay_at_home(named):
    store = Store(named)
    opened = ("opened", {"rules": "r", "machine": "m", "seen_by": "Ann Other"})
    keep(store, opened, ("closed", {"outcome": "cured", "by": "Ann Other"}))
    keep(store, ("closed", {"outcome": "cured", "by": "in_charge"}))
    out = "\n".join(lines(store))
    assert "Ann Other" not in out
    assert "in_charge" in out
    assert share.take(store, lines(store)).same == 2


def case_line(**change):
    record = {
        "case": "0" * 32, "number": 1, "name": "one", "opened_at": AT,
        "machine": {"name": "ours"},
        "journal": [{"number": 0, "at": AT, "kind": "complaint", "data": {"complaint": "slow"}}],
    }  # fmt: skip
    return json.dumps(record | change)


BROKEN = {
    "no json": "{",
    "no object": "[1]",
    "nothing known": '{"poem": 1}',
    "no key": case_line(case="../../etc"),
    "a gap": case_line(journal=[{"number": 1, "at": AT, "kind": "note", "data": {"text": "x"}}]),
    "no such kind": case_line(journal=[{"number": 0, "at": AT, "kind": "boom", "data": {}}]),
    "no time": case_line(opened_at="yesterday"),
    "a bad machine": case_line(machine={"name": "x", "volume": "many"}),
    "a number that is none": '{"run": {"values": {"base": NaN}}, "of": "x", "at": "2026-01-05"}',
    "too deep": "[" * 100_000,
    "a false file": '{"file": "00", "content": "eA=="}',
    "a newer one": '{"casebook": 99}',
    "a missing part": '{"case": "' + "0" * 32 + '"}',
}


@pytest.mark.parametrize("line", BROKEN.values(), ids=list(BROKEN))
def test_a_broken_line_is_told_by_its_number_and_the_rest_is_kept(named, line):
    store = Store(named)
    good = case_line()
    taken = share.take(store, [good, line, "", case_line(case="1" * 32)])
    assert len(taken.new) == 2
    (said,) = taken.broken
    assert said.startswith("line 2: ")
    assert "\n" not in said


def closed_line(minutes):
    journal = json.loads(case_line())["journal"]
    end = {"number": 1, "at": AT, "kind": "closed", "data": {"outcome": "cured", "minutes": "?"}}
    return case_line(journal=[*journal, end]).replace('"?"', minutes)


def run_line(of="ours", kind="run", **change):
    run = {"values": {"base": 5.0}, "metal": None, "slip": None, "did": []}
    return json.dumps({"run": run | change, "of": of, "at": AT, "kind": kind})


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (closed_line("1e999"), "1e999 is no number"),
        (closed_line("1" * 400), "is no number"),
        (closed_line("-5"), "minutes: -5 cannot be"),
        (run_line(values={"base": "low"}), "no reading of a run"),
        (run_line(values={"speed": 1.0}), "no reading of a run"),
        (run_line(kind="jog"), "no kind of run"),
        (run_line(slip="so so"), "slip is good"),
        (run_line(did=[1]), "names of care"),
        (run_line(of=5), "no name of a machine"),
        (json.dumps({"machine": {"name": ""}}), "no name of a machine"),
        (case_line(machine="x"), "do not hold what they hold"),
        (case_line(opened_at="yesterday"), "'yesterday' is no time"),
    ],
)
def test_a_backup_mended_by_hand_brings_in_nothing_that_later_stops_a_command(named, line, says):
    store = Store(named)
    taken = share.take(store, [line])
    assert says in taken.broken[0]
    assert (store.cases(), store.machines(), store.runs("ours")) == ([], [], [])


def test_a_backup_saved_with_a_mark_of_its_encoding_is_read(named):
    taken = share.take(Store(named), ["\ufeff" + '{"casebook": 1}', case_line(), run_line()])
    assert (taken.broken, len(taken.new), taken.runs) == ([], 1, 1)


def test_strict_keeps_nothing_where_a_line_is_broken(named):
    store = Store(named)
    taken = share.take(store, [case_line(), "{"], strict=True)
    assert (taken.new, len(taken.broken)) == ([], 1)
    assert store.cases() == []


def test_strict_keeps_nothing_where_there_is_a_conflict(book, other):
    there = Store(other)
    share.take(there, lines(book))
    keep(there, SLOW, title="theirs")
    there.save(2, Entry(3, AT, "note", {"text": "theirs"}))
    book.save(2, Entry(3, AT, "note", {"text": "ours"}))
    before = book.cases()
    taken = share.take(book, lines(there), strict=True)
    assert (taken.new, len(taken.conflicts)) == ([], 1)
    assert book.cases() == before


def test_hostile_text_is_only_text(named):
    store = Store(named)
    text = "'; DROP TABLE cases; -- \x1b[2J\x00 \ud800 <script> Robert"
    hostile = case_line(
        name=text, journal=[{"number": 0, "at": AT, "kind": "note", "data": {"text": text}}]
    )
    assert share.take(store, [hostile]).broken == []
    (case,) = store.cases()
    assert "DROP TABLE" in case.name
    assert not any(ord(c) < 32 for c in case.name + store.journal(1)[0].data["text"])
    assert [c.id for c in store.cases(Wanted(words="drop robert"))] == [1]
    assert share.take(store, [hostile]).same == 1


@pytest.mark.parametrize("count", [300, pytest.param(100_000, marks=pytest.mark.long)])
def test_many_lines_with_ten_broken_ones(tmp_path, count):
    made = [case_line(case=f"{n:032x}", number=n) for n in range(1, count + 1)]
    at = [count // 10 * n + 3 for n in range(10)]
    for n in at:
        made[n] = made[n][:-5]
    store = Store(str(tmp_path / "lab.db"))
    taken = share.take(store, made)
    assert [said.split(":")[0] for said in taken.broken] == [f"line {n + 1}" for n in at]
    assert store.count() == count - 10


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =cmd", "\n=1"])
def test_no_cell_is_taken_for_a_formula(named, text):
    store = Store(named)
    keep(store, SLOW, title=text)
    table = sheet.table(store.cases(), {})
    assert f"'{text}" in table


def test_the_sheet_has_a_line_a_case_with_names_and_ids(book):
    names = {"slow": "Slow", "vent_open": "Vent open"}
    rows = sheet.table(book.cases(Wanted(status=("closed",))), names).splitlines()
    assert rows[0].startswith("number,opened,closed,status,coater,title,complaint")
    assert rows[1].split(",")[5:10] == ["one", "Slow", "cured", "Vent open", "yes"]
    assert rows[1].endswith("slow,vent_open")
    assert len(rows) == 2
