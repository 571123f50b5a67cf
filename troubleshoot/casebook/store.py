"""Where cases and machine profiles are kept: an SQLite file, or a PostgreSQL server for a lab.

Every journal entry is one committed transaction, so nothing that was answered can be lost. What the
list of cases says is written with it, so that the list is one query.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields

from troubleshoot.case.journal import Entry, Journal
from troubleshoot.casebook.database import Failure, Row, Taken, Transaction, open_database
from troubleshoot.casebook.migrations import bring_up_to_date
from troubleshoot.casebook.place import data_folder, is_url, shown
from troubleshoot.casebook.record import CaseRow, listed
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.upkeep.run import Run

LARGEST = 2**31 - 1
"""No casebook holds a larger case number."""


def _tables(number: str) -> tuple[str, ...]:
    """The tables of a new casebook; `number` declares a key that counts itself up."""
    return (
        f"""CREATE TABLE cases (
            id {number}, name TEXT NOT NULL, opened_at TEXT NOT NULL, machine TEXT NOT NULL,
            complaint TEXT, parked_until TEXT, parked_on TEXT, outcome TEXT, cause TEXT,
            last_at TEXT, status TEXT, entries INTEGER)""",
        """CREATE TABLE entries (
            case_id INTEGER NOT NULL REFERENCES cases (id), number INTEGER NOT NULL,
            at TEXT NOT NULL, kind TEXT NOT NULL, data TEXT NOT NULL,
            PRIMARY KEY (case_id, number))""",
        "CREATE TABLE machines (name TEXT NOT NULL PRIMARY KEY, profile TEXT NOT NULL)",
        f"""CREATE TABLE runs (
            id {number}, machine TEXT NOT NULL, at TEXT NOT NULL, kind TEXT NOT NULL,
            data TEXT NOT NULL)""",
        "CREATE INDEX ix_runs_machine ON runs (machine)",
    )


class Store:
    """The lab's cases and machine profiles.

    `named`: the path of an SQLite file or an SQLAlchemy URL (SQLite, PostgreSQL); None is the file
    in the data folder. Raises `UserError` when it cannot be used.
    """

    def __init__(self, named: str | None = None) -> None:
        self.place = shown(named)
        self._remedy = "mend or move it, or name another folder in TROUBLESHOOT_DATA"
        if named is None:
            try:
                data_folder().mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise UserError(
                    f"{data_folder()} cannot be made ({error.strerror}): set TROUBLESHOOT_DATA to "
                    "a folder that can be written."
                ) from None
        else:
            self._remedy = (
                "see that it is there and can be written, or name another one with --casebook or "
                "in TROUBLESHOOT_CASEBOOK"
            )
        with self._usable():
            url = named if named is not None and is_url(named) else self.place
            self._database = open_database(url, self.place)
            bring_up_to_date(self._database, _tables(self._database.number), self.place)

    @contextmanager
    def _usable(self) -> Iterator[None]:
        """Raises `UserError` when the casebook cannot be read or written."""
        try:
            yield
        except Failure as error:
            raise UserError(
                f"{self.place} is not a usable casebook ({error}): {self._remedy}."
            ) from None

    @contextmanager
    def _transaction(self) -> Iterator[Transaction]:
        with self._usable(), self._database.transaction() as do:
            yield do

    def new_case(self, name: str, at: str, machine: Machine) -> int:
        """Open a case and give its number."""
        row = {"name": name, "opened_at": at, "machine": _as_json(machine), **listed((), at)}
        with self._transaction() as do:
            (made,) = do(f"{_insert('cases', row)} RETURNING id", **row)
        return int(made["id"])

    def set_machine(self, case: int, machine: Machine) -> None:
        """Keep the machine profile of a case."""
        with self._transaction() as do:
            profile = _as_json(machine)
            do("UPDATE cases SET machine = :machine WHERE id = :case", machine=profile, case=case)

    def save(self, case: int, entry: Entry) -> None:
        """Keep one journal entry and what the list says because of it, in one transaction.

        Raises `UserError` when another program has kept an entry of that number meanwhile.
        """
        row = {
            "case_id": case,
            "number": entry.number,
            "at": entry.at,
            "kind": entry.kind,
            "data": json.dumps(dict(entry.data), sort_keys=True),
        }
        try:
            with self._transaction() as do:
                do(_insert("entries", row), **row)
                said = listed(_journal(do, case), entry.at)
                fill = ", ".join(f"{column} = :{column}" for column in said)
                do(f"UPDATE cases SET {fill} WHERE id = :case", case=case, **said)
        except Taken:
            raise UserError(
                f"Case {case} was gone on with in another window meanwhile: take it up again with "
                f"`troubleshoot diagnose --resume --case {case}`."
            ) from None

    def journal(self, case: int) -> Journal:
        """The journal of a case. Raises `UserError` for a number that does not exist."""
        self._row(case)
        with self._transaction() as do:
            return _journal(do, case)

    def machine_of(self, case: int) -> Machine:
        """The machine profile that the case was opened with."""
        return machine_from(json.loads(self._row(case)["machine"]), f"case {case}")

    def _row(self, case: int) -> Row:
        with self._transaction() as do:
            number = max(0, min(case, LARGEST))
            rows = do("SELECT * FROM cases WHERE id = :number", number=number)
        if not rows:
            raise UserError(f"There is no case {case}: `troubleshoot cases list` shows them.")
        return rows[0]

    def cases(self) -> list[CaseRow]:
        """All cases, newest first."""
        columns = ", ".join(f.name for f in fields(CaseRow))
        with self._transaction() as do:
            rows = do(f"SELECT {columns} FROM cases ORDER BY id DESC")
        return [CaseRow(**row) for row in rows]

    def save_machine(self, machine: Machine) -> None:
        """Keep a machine profile under its name."""
        row = {"name": machine.name, "profile": _as_json(machine)}
        with self._transaction() as do:
            do("DELETE FROM machines WHERE name = :name", name=machine.name)
            do(_insert("machines", row), **row)

    def machines(self) -> list[Machine]:
        """All machine profiles, by name."""
        with self._transaction() as do:
            rows = do("SELECT name, profile FROM machines ORDER BY name")
        return [machine_from(json.loads(r["profile"]), f"machine {r['name']}") for r in rows]

    def save_run(self, machine: str, run: Run) -> None:
        """Keep one entry of a machine's run log."""
        data = json.dumps(run.as_data())
        row = {"machine": machine, "at": run.at, "kind": run.kind, "data": data}
        with self._transaction() as do:
            do(_insert("runs", row), **row)

    def runs(self, machine: str) -> list[Run]:
        """The run log of a machine, in the order in which it was written."""
        with self._transaction() as do:
            rows = do(
                "SELECT at, kind, data FROM runs WHERE machine = :machine ORDER BY id",
                machine=machine,
            )
        return [Run.of(r["at"], r["kind"], json.loads(r["data"])) for r in rows]


def _as_json(machine: Machine) -> str:
    return json.dumps(machine.as_dict())


def _insert(table: str, row: Row) -> str:
    """The statement that puts a row into a table."""
    return f"INSERT INTO {table} ({', '.join(row)}) VALUES ({', '.join(f':{c}' for c in row)})"


def _journal(do: Transaction, case: int) -> Journal:
    rows = do(
        "SELECT number, at, kind, data FROM entries WHERE case_id = :case ORDER BY number",
        case=case,
    )
    return tuple(Entry(r["number"], r["at"], r["kind"], json.loads(r["data"])) for r in rows)
