"""A casebook of every older version is opened, brought up to date and kept whole."""

import shutil
import sqlite3
import subprocess
import sys
from dataclasses import astuple
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.script import ScriptDirectory

from tests.casebook.older import OLDER
from tests.cli.checkout import ROOT
from troubleshoot.casebook import migrations, words
from troubleshoot.casebook.drills import kept
from troubleshoot.casebook.schema import LATEST
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.errors import UserError
from troubleshoot.upkeep.run import Run


@pytest.fixture
def old(tmp_path):
    """A casebook of version 0: two cases, a machine and three runs."""
    return str(shutil.copy(OLDER[0], tmp_path / "lab.db"))


def version(path):
    with sqlite3.connect(path) as db:
        return db.execute("select version_num from casebook").fetchall()


def dump(path):
    with sqlite3.connect(path) as db:
        return list(db.iterdump())


def test_a_new_casebook_is_of_the_latest_version(tmp_path):
    Store(str(tmp_path / "new.db"))
    assert version(tmp_path / "new.db") == [(str(LATEST),)]


def test_version_0_is_brought_up_to_date(old):
    assert "casebook" not in "".join(dump(old))
    Store(old)
    assert version(old) == [(str(LATEST),)]


def test_the_list_of_version_0_is_kept(old):
    """As the program of that version printed it, which read the journals for it."""
    assert [astuple(c) for c in Store(old).cases()] == [
        (2, "Vent", "2026-03-03T10:00:00", "2026-03-03T10:04:00", "slow", "closed", None, None,
         "cured", "vent_open", 5, "the harbour coater", None, None, True, 4.0,
         "2026-03-03T10:04:00"),
        (1, "Damp Monday", "2026-03-02T09:00:00", "2026-03-02T09:32:00", "slow", "parked",
         "2026-03-02T11:00", "wait_an_hour", None, None, 33, "the harbour coater", None,
         "experienced", False, 32.0, None),
    ]  # fmt: skip


def test_everything_else_of_version_0_is_kept(old):
    store = Store(old)
    assert [len(store.journal(case)) for case in (1, 2)] == [33, 5]
    assert store.journal(1)[12].data == {"finding": "base", "quantity": "0.4 mbar"}
    (machine,) = store.machines()
    assert (machine.name, machine.gauge_unit) == ("the harbour coater", "mbar")
    assert store.machine_of(1) == store.machine_of(2) == machine
    assert store.runs(machine.name) == [
        Run("2026-03-01T09:00:00", "run", {"base": 5.0, "current": 0.012, "seconds": 60.0},
            "gold", "good"),
        Run("2026-03-02T08:00:00", "check_up", {"time": 300.0, "base": 3.0}, None, "bad", ("oil",)),
        Run("2026-03-04T08:00:00", "care", did=("oil", "seals")),
    ]  # fmt: skip


def test_no_row_of_version_0_is_changed_but_for_its_new_columns(old):
    tables = {"entries": "*", "machines": "*", "runs": "*", "cases": "id, name, opened_at, machine"}

    def rows():
        with sqlite3.connect(old) as db:
            return {t: db.execute(f"select {c} from {t}").fetchall() for t, c in tables.items()}

    before = rows()
    Store(old)
    assert rows() == before
    assert [len(r) for r in before.values()] == [38, 1, 3, 2]


def test_an_old_casebook_has_the_columns_of_a_new_one(old, tmp_path):
    def columns(path):
        look = sa.inspect(sa.create_engine(f"sqlite:///{path}"))
        return {
            table: sorted(
                (c["name"], str(c["type"]), c["nullable"]) for c in look.get_columns(table)
            )
            for table in look.get_table_names()
        }

    Store(old)
    Store(str(tmp_path / "new.db"))
    assert columns(old) == columns(tmp_path / "new.db")


def test_a_step_that_fails_leaves_everything_as_it_was(old, monkeypatch):
    """Also what the steps before it had done."""

    def fails(*args):
        raise RuntimeError("the power was cut")

    before = dump(old)
    monkeypatch.setattr(words, "words_of", fails)
    with pytest.raises(RuntimeError):
        Store(old)
    assert dump(old) == before


def test_a_casebook_of_every_older_version_is_kept():
    assert sorted(OLDER) == list(range(LATEST))


def test_the_number_of_the_latest_revision_is_that_of_the_shape():
    folder = str(Path(migrations.__file__).parent)
    assert ScriptDirectory(folder).get_current_head() == str(LATEST)


def test_a_casebook_of_the_latest_version_is_opened_without_the_library_that_changes_it(tmp_path):
    path = str(tmp_path / "new.db")
    script = f"import sys; from troubleshoot.casebook.store import Store; Store({path!r}); "
    script += f"Store({path!r}).cases(); print('alembic' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, cwd=ROOT,
        check=True,
    )  # fmt: skip
    assert done.stdout.strip() == "False"


def test_an_old_casebook_that_cannot_be_written_is_left_as_it_is(old):
    before = dump(old)
    with pytest.raises(UserError, match="readonly"):
        Store(f"sqlite:///file:{old}?mode=ro&uri=true")
    assert dump(old) == before


def test_a_newer_casebook_is_refused_and_left_as_it_is(tmp_path):
    path = tmp_path / "lab.db"
    Store(str(path))
    with sqlite3.connect(path) as db:
        db.execute("update casebook set version_num = ?", (LATEST + 1,))
    before = dump(path)
    with pytest.raises(UserError, match="newer version") as error:
        Store(str(path))
    assert str(path) in str(error.value)
    assert "\n" not in str(error.value)
    assert dump(path) == before


def test_a_case_that_cannot_be_read_is_marked_and_the_rest_is_brought_up_to_date(old):
    with sqlite3.connect(old) as db:
        db.execute("update entries set data = '{' where case_id = 1 and number = 3")
    store = Store(old)
    assert [(c.id, c.status) for c in store.cases()] == [(2, "closed"), (1, "unreadable")]
    with pytest.raises(UserError, match=r"Entry 3 of case 1 is damaged.*cases delete 1"):
        store.journal(1)
    assert len(store.journal(2)) == 5


def test_the_words_of_an_old_casebook_are_found(old):
    store = Store(old)
    assert [c.id for c in store.cases(Wanted(words="harbour vent"))] == [2, 1]
    assert [c.id for c in store.cases(Wanted(words="damp monday"))] == [1]


def test_version_1_is_brought_up_to_date(tmp_path):
    """The same casebook, as that version had brought it up to date, with a third case."""
    path = str(shutil.copy(OLDER[1], tmp_path / "lab.db"))
    store = Store(path)
    assert version(path) == [(str(LATEST),)]
    assert [(c.id, c.status, c.coater, c.minutes) for c in store.cases()] == [
        (3, "open", "this coater", 9.0), (2, "closed", "the harbour coater", 4.0),
        (1, "parked", "the harbour coater", 32.0),
    ]  # fmt: skip
    with sqlite3.connect(path) as db:
        tried = db.execute("select action, complaint_now from remedies where case_id = 3")
        assert tried.fetchall() == [("wipe_seal", "better")]
        assert db.execute("select count(distinct key) from cases").fetchall() == [(3,)]


def test_version_2_is_brought_up_to_date(tmp_path):
    """One closed case, a machine and a run, and no drill yet."""
    path = str(shutil.copy(OLDER[2], tmp_path / "lab.db"))
    before = dump(path)
    store = Store(path)
    assert version(path) == [(str(LATEST),)]
    assert [(c.id, c.status, c.coater) for c in store.cases()] == [
        (1, "closed", "the harbour coater")
    ]
    assert len(store.runs("the harbour coater")) == 1
    assert kept(store, "student") == []
    changed = set(dump(path)) - set(before)
    assert all("drills" in line or "casebook" in line for line in changed)
