"""Which cases a list shows, and which are like another."""

import pytest

from tests.casebook.made import CLOSED, SLOW, keep
from troubleshoot.case.journal import Entry
from troubleshoot.casebook.alike import alike, answers, ended_as
from troubleshoot.casebook.attachments import attach, attached, content_of, digest, read_file
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.errors import UserError


@pytest.fixture
def book(named):
    store = Store(named)
    keep(store, SLOW, CLOSED, coater="east", at="2026-01-05T09:00:00")
    keep(store, SLOW, coater="west", at="2026-02-05T09:00:00")
    both = {"outcome": "cured", "cause": ["vent", "dust"], "proved_by": "fault seen"}
    keep(store, ("complaint", {"complaint": "dim"}), ("closed", both), at="2026-03-05T09:00:00")
    keep(store, at="2026-04-05T09:00:00")
    return store


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({}, [4, 3, 2, 1]),
        ({"coater": "west"}, [2]),
        ({"complaint": "slow"}, [2, 1]),
        ({"status": ("open",)}, [4, 2]),
        ({"status": ("open", "closed"), "complaint": "slow"}, [2, 1]),
        ({"cause": "dust"}, [3]),
        ({"cause": "vent"}, [3]),  # not vent_open
        ({"cause": "ven_"}, []),
        ({"since": "2026-02-05"}, [4, 3, 2]),
        ({"until": "2026-02-05"}, [2, 1]),
        ({"since": "2026-02-05", "until": "2026-02-05"}, [2]),
        ({"words": "slow west"}, [2]),
        ({"words": "nothing", "named": ("vent_open",)}, [1]),
        ({"starts": False}, [3, 2, 1]),
        ({"limit": 2}, [4, 3]),
    ],
)
def test_what_is_asked_is_found_newest_first(book, asked, found):
    wanted = Wanted(**asked)
    assert [c.id for c in book.cases(wanted)] == found
    assert book.count(wanted) == (4 if asked == {"limit": 2} else len(found))


def test_a_list_is_one_query(book, monkeypatch):
    import sqlalchemy as sa

    asked = []
    sa.event.listen(book._engine, "before_cursor_execute", lambda *a: asked.append(a[2]))
    book.cases()
    *looks, over_cases = [s for s in asked if s.startswith("SELECT")]
    assert "FROM cases" in over_cases
    # Beside it: whether a newer program has taken the book over (on a server under a lock).
    assert all("FROM casebook" in s or "advisory_xact_lock" in s for s in looks)


def finding(name, answer):
    return ("finding", {"finding": name, "answer": answer})


def test_the_case_that_agrees_most_comes_first_and_one_that_contradicts_is_left_out(named):
    store = Store(named)
    ended = [("closed", {"outcome": "cured", "cause": c}) for c in ("dust", "vent", "dust", "oil")]
    same = keep(store, SLOW, finding("seal", "dusty"), finding("lamp", "on"), ended[0])
    half = keep(store, SLOW, finding("seal", "dusty"), finding("lamp", "off"), ended[1])
    bare = keep(store, SLOW, ended[2])
    keep(store, SLOW, finding("seal", "clean"), finding("lamp", "off"), ended[3])
    keep(store, ("complaint", {"complaint": "dim"}), finding("seal", "dusty"), ended[0])
    keep(store, SLOW, finding("seal", "dusty"), finding("lamp", "on"))  # still open
    mine = keep(store, SLOW, finding("seal", "dusty"), finding("lamp", "on"), ended[0])
    found = alike(store, store.journal(mine), "slow", "this coater", mine)
    assert [a.case.id for a in found] == [same, bare, half]
    assert (found[0].agree, found[0].differ) == (("lamp", "seal"), ())
    assert ended_as(found) == [("dust", 2), ("vent", 1)]


def test_of_two_that_agree_alike_the_one_of_the_same_coater_comes_first(named):
    store = Store(named)
    east = keep(store, SLOW, finding("seal", "dusty"), CLOSED, coater="east")
    west = keep(store, SLOW, finding("seal", "dusty"), CLOSED, coater="west")
    journal = (Entry(0, "2026-01-05T09:00:00", *finding("seal", "dusty")),)
    assert [a.case.id for a in alike(store, journal, "slow", "east")] == [east, west]
    assert [a.case.id for a in alike(store, journal, "slow", "west")] == [west, east]


def test_the_first_answer_counts_as_it_was_corrected():
    """Later ones may be of a coater that was mended meanwhile."""
    entries = (
        finding("seal", "dusty"), finding("seal", "clean"), finding("lamp", "unknown"),
        ("corrected", {"entry": 0, "to": {"finding": "seal", "answer": "torn"}, "why": "slip"}),
    )  # fmt: skip
    journal = tuple(Entry(n, "2026-01-05T09:00:00", k, d) for n, (k, d) in enumerate(entries))
    assert answers(journal) == {"seal": "torn", "lamp": "unknown"}


# --- files -------------------------------------------------------------------------------------


def test_a_file_is_kept_once_by_its_content_and_goes_with_its_last_case(named, tmp_path):
    store, path = Store(named), tmp_path / "seal.jpg"
    path.write_bytes(b"\x00\xff picture")
    cases = [keep(store, SLOW), keep(store, SLOW)]
    for case in (*cases, cases[0]):
        content = read_file(path)
        entry = Entry(
            len(store.journal(case)), "2026-01-05T09:30:00", "file",
            attached(path, content, "before").record(),
        )  # fmt: skip
        attach(store, case, entry, content)
    name = digest(b"\x00\xff picture")
    with store.reading() as db:
        assert db.exec_driver_sql("SELECT count(*) FROM files").scalar() == 1
    store.delete(cases[0])
    assert content_of(store, name) == b"\x00\xff picture"
    store.delete(cases[1])
    with pytest.raises(UserError, match="missing or damaged"):
        content_of(store, name)


def test_a_file_that_is_too_large_or_not_there_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr("troubleshoot.casebook.attachments.LARGEST_FILE", 10)
    (tmp_path / "film").write_bytes(b"12345678901")
    with pytest.raises(UserError, match="make it smaller"):
        read_file(tmp_path / "film")
    with pytest.raises(UserError, match="does not exist"):
        read_file(tmp_path / "none")


def test_neither_a_file_nor_its_entry_is_kept_alone(named):
    store = Store(named)
    case = keep(store, SLOW)
    taken = Entry(0, "2026-01-05T09:30:00", "file", {"name": "a", "sha256": "0", "size": 1})
    with pytest.raises(UserError, match="another window"):
        attach(store, case, taken, b"x")
    with store.reading() as db:
        assert db.exec_driver_sql("SELECT count(*) FROM files").scalar() == 0
