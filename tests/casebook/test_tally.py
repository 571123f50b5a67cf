"""What the lab learns from its closed cases, counted by the database, and what follows from it."""

import pytest

from tests.casebook.made import keep
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.entries import Book
from troubleshoot.case.journal import Entry, append, enter
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.tally import tally
from troubleshoot.coater.machine import Machine

NOW = "2026-06-15T09:00:00"
SLOW, NOISY = (("complaint", {"complaint": c}) for c in ("slow", "noisy"))


def closed(cause="vent_open", proved="fault seen", outcome="cured"):
    data = {"outcome": outcome, "cause": cause, "proved_by": proved}
    return "closed", {k: v for k, v in data.items() if v is not None}


def tried(action, now):
    return "action", {"action": action, "complaint_now": now}


@pytest.fixture
def book(named):
    return Store(named)


@pytest.fixture
def count(book, small_rules):
    def counting(coater="east", at=NOW, **more):
        return tally(book, coater, at, small_rules.settings, **more)

    return counting


def test_a_proved_case_of_today_counts_one_where_it_belongs(book, count):
    keep(book, SLOW, closed(), coater="east", at=NOW)
    keep(book, SLOW, closed(), coater="west", at=NOW)
    keep(book, SLOW, closed("dust_on_seal"), coater="west", at=NOW)
    found = count()
    assert found.here == {"slow": {"vent_open": 1.0}}
    assert found.lab == {"slow": {"vent_open": 1.0, "dust_on_seal": 1.0}}
    assert found.cases == 3
    assert count("nowhere").here == {}


@pytest.mark.parametrize(
    ("end", "counts"),
    [
        (closed(proved=None), {"vent_open": 0.5}),
        (closed(proved="not proved"), {"vent_open": 0.5}),
        (closed(["vent_open", "dust_on_seal"]), {"vent_open": 0.5, "dust_on_seal": 0.5}),
        (closed("unlisted"), {"unlisted": 1.0}),
        (closed(None, None, "normal"), {"nothing_wrong": 0.5}),
        (closed(None, None, "unsolved"), None),
        (closed(None, None, "comes_and_goes"), None),
        (closed(None, None, "cured"), None),
        (("note", {"text": "open still"}), None),
    ],
)
def test_a_case_counts_as_much_as_is_known_of_it(book, count, end, counts):
    keep(book, SLOW, end, coater="east", at=NOW)
    assert count().here == ({} if counts is None else {"slow": counts})
    assert count().cases == (counts is not None)


def test_an_old_case_counts_half_after_the_half_life(book, count, small_rules):
    assert small_rules.settings.learn_half_life == 36
    keep(book, SLOW, closed(), coater="east", at="2023-06-15T09:00:00")
    keep(book, NOISY, closed(), coater="east", at="1990-06-15T09:00:00")
    found = count().here
    assert found["slow"] == {"vent_open": 0.5}
    assert found["noisy"]["vent_open"] == pytest.approx(0.5**12, abs=1e-4)


def test_a_case_of_this_year_or_of_a_clock_that_runs_ahead_counts_whole(book, count):
    for at in ("2026-01-02T09:00:00", NOW, "2031-01-02T09:00:00"):
        keep(book, SLOW, closed(), coater="east", at=at)
    assert count().here == {"slow": {"vent_open": 3.0}}


def test_what_is_corrected_reopened_or_deleted_is_unlearnt(book, count):
    cases = [keep(book, SLOW, closed(), coater="east", at=NOW) for _ in range(3)]
    assert count().here == {"slow": {"vent_open": 3.0}}
    to = closed("dust_on_seal")[1]
    book.save(cases[0], Entry(2, NOW, "corrected", {"entry": 1, "to": to, "why": "slip"}))
    assert count().here == {"slow": {"vent_open": 2.0, "dust_on_seal": 1.0}}
    book.save(cases[1], Entry(2, NOW, "retract", {"entry": 1, "why": "it is back"}))
    assert count().here == {"slow": {"vent_open": 1.0, "dust_on_seal": 1.0}}
    book.delete(cases[2])
    assert count().here == {"slow": {"dust_on_seal": 1.0}}
    assert count(without=cases[0]).here == {}


def test_it_is_counted_how_often_each_remedy_cured_what(book, count):
    for now in ("cured", "cured", "better", "unchanged", "unknown"):
        keep(book, SLOW, tried("wipe_seal", now), closed("dust_on_seal"), coater="west", at=NOW)
    keep(book, SLOW, tried("wipe_seal", "unchanged"), closed(["vent_open", "dust_on_seal"]), at=NOW)
    keep(book, SLOW, tried("wipe_seal", "unchanged"), closed("dust_on_seal", None), at=NOW)
    keep(book, SLOW, tried("wipe_seal", "unchanged"), at=NOW)
    assert count().cures == {"wipe_seal": {"dust_on_seal": (4.5, 2.0)}}


def test_the_book_is_pinned_in_the_journal_and_moves_the_belief(book, count, small_rules):
    """And what the lab learns later does not move a case that is under way."""
    machine = Machine(name="east")
    plain = append((), NOW, "complaint", small_rules, complaint="slow")
    bench = Bench(small_rules, machine)
    before = bench.assess(plain).belief.present["dust_on_seal"]
    for _ in range(12):
        keep(book, SLOW, closed("dust_on_seal"), coater="east", at=NOW)
    pinned = enter(plain, NOW, Book.of(count()), small_rules)
    after = bench.assess(pinned).belief.present["dust_on_seal"]
    assert after > before + 0.05
    case = book.new_case("", NOW, machine, entries=pinned)
    for _ in range(50):
        keep(book, SLOW, closed("vent_open"), coater="east", at=NOW)
    again = Bench(small_rules, machine).assess(book.journal(case))
    assert again.belief.present["dust_on_seal"] == after
    assert again.known.book.hash == pinned[-1].data["hash"]


def test_no_closed_case_changes_nothing(small_rules):
    from troubleshoot.reasoning.learned import Tally

    plain = append((), NOW, "complaint", small_rules, complaint="slow")
    empty = enter(plain, NOW, Book.of(Tally()), small_rules)
    bench = Bench(small_rules, Machine())
    assert bench.assess(empty).belief.present == bench.assess(plain).belief.present
