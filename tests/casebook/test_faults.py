"""Input and output errors at every single call of a whole case: what was acknowledged is kept.

A case is opened, answered, given a file, closed and corrected; at the n-th call into the database,
for all n, that call fails, once before it did anything and once after it did. The same for every
call by which a page gets on disk.
"""

import errno
import os
import shutil
import sqlite3
from pathlib import Path

import pytest

from troubleshoot.case.journal import Entry
from troubleshoot.casebook import attachments
from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.show.files import to_file

AT = "2026-01-05T09:00:00"
ENTRIES = (
    Entry(0, AT, "opened", {"rules": "r", "machine": "m", "name": "damp Monday"}),
    Entry(1, AT, "complaint", {"complaint": "slow_pump_down"}),
    Entry(2, AT, "finding", {"finding": "hiss", "answer": "yes"}),
    Entry(3, AT, "title", {"text": "Hiss at the lid"}),
    Entry(4, AT, "file", {"name": "a.txt", "sha256": attachments.digest(b"a"), "size": 1}),
    Entry(5, AT, "closed", {"outcome": "cured", "cause": "seal_dirty"}),
    Entry(6, AT, "retract", {"entry": 5}),
)


class Fault:
    """The call that fails: the `at`-th, before or after it did what it does."""

    def __init__(self, at, after):
        self.at, self.after, self.calls, self.failed = at, after, 0, False

    def through(self, call, error):
        self.calls += 1
        hit = self.calls == self.at
        self.failed |= hit
        if hit and not self.after:
            raise error()
        out = call()
        if hit:
            raise error()
        return out


def io_error():
    return sqlite3.OperationalError("disk I/O error")


def faulty(fault):
    """A connection of which every call goes through `fault`."""

    class Cursor(sqlite3.Cursor):
        def execute(self, *args):
            return fault.through(lambda: sqlite3.Cursor.execute(self, *args), io_error)

        def executemany(self, *args):
            return fault.through(lambda: sqlite3.Cursor.executemany(self, *args), io_error)

    class Connection(sqlite3.Connection):
        def cursor(self, *_):
            return super().cursor(Cursor)

        def commit(self):
            return fault.through(super().commit, io_error)

    real = sqlite3.connect
    return lambda *args, **more: real(*args, **more | {"factory": Connection})


def play(path):
    """Open the case and save its entries; how many were acknowledged, and the case."""
    done, case, book = 0, None, None
    try:
        book = Store(str(path))
        case = book.new_case("damp Monday", AT, Machine(), ENTRIES[:1])
        done = 1
        for entry in ENTRIES[1:]:
            if entry.kind == "file":
                attachments.attach(book, case, entry, b"a")
            else:
                book.save(case, entry)
            done += 1
    except UserError:
        pass
    finally:
        if book is not None:
            book.close()
    return done, case


@pytest.mark.slow
@pytest.mark.parametrize("new", [False, pytest.param(True, marks=pytest.mark.long)])
@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
def test_whatever_call_fails_what_was_acknowledged_is_kept_and_the_case_goes_on(
    tmp_path, monkeypatch, after, new
):
    """Also while a new casebook is being made."""
    empty = tmp_path / "empty.db"
    Store(str(empty)).close()
    whole, _ = play(tmp_path / "whole.db")
    assert whole == len(ENTRIES)
    tried = 0
    for at in range(1, 10_000):
        path = tmp_path / f"{at}.db"
        if not new:
            shutil.copy(empty, path)
        fault = Fault(at, after)
        with monkeypatch.context() as patch:
            patch.setattr("sqlite3.dbapi2.connect", faulty(fault))
            acknowledged, case = play(path)
        if not fault.failed:
            break
        tried += 1
        book = Store(str(path))
        cases = book.cases()
        if case is None:
            assert len(cases) <= 1
            assert all(c.entries == 1 for c in cases)
        else:
            journal = book.journal(case)
            assert tuple(journal) in (ENTRIES[:acknowledged], ENTRIES[: acknowledged + 1])
            assert cases[0].entries == len(journal)
            for entry in ENTRIES[len(journal) :]:
                book.save(case, entry)
            assert tuple(book.journal(case)) == ENTRIES
        book.close()
        path.unlink()
    assert tried > 30


CALLS = ("open", "chmod", "fsync", "replace")


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
def test_a_page_is_the_old_one_or_the_new_one(tmp_path, monkeypatch, call, number, after):
    target: Path = tmp_path / "report.html"
    target.write_text("old")
    fault = Fault(1, after)
    place = "builtins.open" if call == "open" else f"os.{call}"
    real = open if call == "open" else getattr(os, call)

    def failing(*args, **more):
        return fault.through(
            lambda: real(*args, **more), lambda: OSError(number, os.strerror(number))
        )

    with monkeypatch.context() as patch:
        patch.setattr(place, failing)
        with pytest.raises(UserError, match="cannot be written"):
            to_file(target, "new")
    assert target.read_text() in ("old", "new")
    to_file(target, "newest")
    assert target.read_text() == "newest"
