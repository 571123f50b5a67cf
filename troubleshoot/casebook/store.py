"""The lab's cases and machine profiles, kept so that nothing that was answered can be lost.

Every journal entry is one committed transaction, and with it what the list of cases says.
"""

import json
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import sqlalchemy as sa

from troubleshoot.case.journal import Entry, Journal
from troubleshoot.casebook import trouble, words
from troubleshoot.casebook.engine import connect
from troubleshoot.casebook.migrations import bring_up_to_date, stays_as_it_is
from troubleshoot.casebook.place import data_folder, shown
from troubleshoot.casebook.record import CaseRow, listed, remedies, row_of
from troubleshoot.casebook.schema import (
    CASE_FILES,
    CASES,
    ENTRIES,
    FILES,
    LIST,
    MACHINES,
    REMEDIES,
    RUNS,
)
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.upkeep.run import Run

LARGEST = 2**31 - 1
"""No casebook holds a larger case number."""
WAITS = (0.5, 2.0, 5.0)
"""Seconds before a server that has gone is asked again."""
EVERY = Wanted()
T = TypeVar("T")


class Store:
    """The lab's cases and machine profiles.

    `named`: the path of an SQLite file or an SQLAlchemy URL (SQLite, PostgreSQL); None is the file
    in the data folder. `warn` is told what of it cannot be read, while the rest is shown. Raises
    `UserError` when it cannot be used.
    """

    def __init__(
        self, named: str | None = None, warn: Callable[[str], None] = lambda told: None
    ) -> None:
        self.place, self._named, self._warn = shown(named), named, warn
        if named is None:
            try:
                data_folder().mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise UserError(
                    f"{data_folder()} cannot be made ({error.strerror}): set TROUBLESHOOT_DATA to "
                    "a folder that can be written."
                ) from None
        with self._usable():
            self._engine = connect(named, self.place)
            bring_up_to_date(self._engine, self.place)

    @property
    def dialect(self) -> str:
        """The kind of database: sqlite or postgresql."""
        return self._engine.dialect.name

    def close(self) -> None:
        """Let go of the file or the server."""
        self._engine.dispose()

    @contextmanager
    def _usable(self) -> Iterator[None]:
        """Raises `UserError` when the casebook cannot be read or written."""
        try:
            yield
        except sa.exc.IntegrityError:
            raise
        except (sa.exc.DBAPIError, sa.exc.NoResultFound) as error:
            raise UserError(trouble.sentence(error, self._named, self.place)) from None

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A transaction that only looks. Raises `UserError`."""
        with self._usable(), self._engine.begin() as db:
            stays_as_it_is(db, self.place)
            yield db

    def write(self, work: Callable[[sa.Connection], T]) -> T:
        """Do some work all or not at all; if the server has gone, again once it is back.

        Raises `UserError`.
        """
        engine = self._engine.execution_options(immediate=True)
        for wait in (*WAITS, None):
            try:
                with engine.begin() as db:
                    stays_as_it_is(db, self.place)
                    return work(db)
            except sa.exc.OperationalError as error:
                if wait is None or not trouble.is_away(error):
                    raise UserError(trouble.sentence(error, self._named, self.place)) from None
                time.sleep(wait)
            except sa.exc.IntegrityError:
                raise
            except sa.exc.DBAPIError as error:
                raise UserError(trouble.sentence(error, self._named, self.place)) from None
        raise AssertionError("the last wait is None")

    # --- cases ---------------------------------------------------------------------------------

    def new_case(self, name: str, at: str, machine: Machine, entries: Journal = ()) -> int:
        """Open a case, with what is said of it already, and give its number."""
        key = uuid.uuid4().hex  # by it the case is known in every casebook that it is sent to
        row = {
            "name": name, "opened_at": at, "machine": json.dumps(machine.as_dict()), "key": key,
            "coater": machine.name, **listed((), at),
        }  # fmt: skip

        def work(db: sa.Connection) -> int:
            # Asked again by a server that came back, the first time may have been kept.
            kept = db.scalar(sa.select(CASES.c.id).where(CASES.c.key == key))
            if kept is not None:
                return int(kept)
            made = db.execute(CASES.insert().values(row)).inserted_primary_key
            assert made is not None
            for entry in entries:
                db.execute(ENTRIES.insert().values(case_id=made[0], **row_of_entry(entry)))
            keep_record(db, made[0])
            return int(made[0])

        return self.write(work)

    def set_machine(self, case: int, machine: Machine) -> None:
        """Keep the machine profile of a case."""
        profile = json.dumps(machine.as_dict())

        def work(db: sa.Connection) -> None:
            row = locked(db, case)
            db.execute(
                CASES.update()
                .where(CASES.c.id == case)
                .values(machine=profile, coater=machine.name)
            )
            journal = journal_in(db, case)
            words.keep(db, case, words.words_of(journal, row.name, machine.name))

        self.write(work)

    def save(
        self, case: int, entry: Entry, before: Callable[[sa.Connection], None] | None = None
    ) -> None:
        """Keep one journal entry and what the list says because of it, in one transaction.

        `before` is done in it too: what the entry speaks of. Raises `UserError` when another
        program has kept an entry of that number meanwhile.
        """
        new = row_of_entry(entry)
        tries = 0

        def work(db: sa.Connection) -> None:
            nonlocal tries
            tries += 1
            locked(db, case)
            kept = db.execute(
                sa.select(ENTRIES).where(
                    ENTRIES.c.case_id == case, ENTRIES.c.number == entry.number
                )
            ).one_or_none()
            if kept is not None:
                if tries > 1 and new.items() <= kept._mapping.items():
                    return  # it was kept, and the server went before it could say so
                raise UserError(
                    f"Case {case} was gone on with in another window meanwhile: take it up again "
                    f"with `troubleshoot diagnose --resume --case {case}`."
                )
            if before is not None:
                before(db)
            db.execute(ENTRIES.insert().values(case_id=case, **row_of_entry(entry)))
            keep_record(db, case)

        self.write(work)

    def delete(self, case: int) -> None:
        """Take a case out for good, with its files. Raises `UserError` for an unknown number."""

        def work(db: sa.Connection) -> None:
            locked(db, case)
            for table in (ENTRIES, REMEDIES, CASE_FILES):
                db.execute(table.delete().where(table.c.case_id == case))
            words.forget(db, case)
            db.execute(CASES.delete().where(CASES.c.id == case))
            still = sa.select(CASE_FILES.c.sha256)
            db.execute(FILES.delete().where(FILES.c.sha256.not_in(still)))

        self.write(work)

    def journal(self, case: int) -> Journal:
        """The journal of a case. Raises `UserError` for a number that does not exist."""
        with self.reading() as db:
            _row(db, case)
            return journal_in(db, case)

    def machine_of(self, case: int) -> Machine:
        """The machine profile that the case was opened with."""
        with self.reading() as db:
            kept = _row(db, case).machine
        return machine_from(
            _read(kept, f"The machine profile of case {case}", case), f"case {case}"
        )

    def key_of(self, case: int) -> str:
        """What the case is called in every casebook that it is sent to."""
        with self.reading() as db:
            return str(_row(db, case).key)

    def case(self, case: int) -> CaseRow:
        """The line of the list of one case. Raises `UserError` for a number that does not exist."""
        with self.reading() as db:
            row = _row(db, case)._mapping
        return row_of({c.name: row[c.name] for c in LIST})

    def cases(self, wanted: Wanted = EVERY) -> list[CaseRow]:
        """The cases that are wanted, newest first; where words are asked, the best match first."""
        with self.reading() as db:
            rows = db.execute(wanted.query(self.dialect)).all()
        return [row_of(dict(r._mapping)) for r in rows]

    def count(self, wanted: Wanted = EVERY) -> int:
        """How many cases are wanted, whatever the limit."""
        with self.reading() as db:
            return int(db.scalar(wanted.count(self.dialect)) or 0)

    # --- machines and runs ---------------------------------------------------------------------

    def save_machine(self, machine: Machine) -> None:
        """Keep a machine profile under its name."""
        profile = json.dumps(machine.as_dict())

        def work(db: sa.Connection) -> None:
            db.execute(MACHINES.delete().where(MACHINES.c.name == machine.name))
            db.execute(MACHINES.insert().values(name=machine.name, profile=profile))

        self.write(work)

    def machines(self) -> list[Machine]:
        """All machine profiles that can be read, by name; `warn` is told of the others."""
        with self.reading() as db:
            rows = db.execute(sa.select(MACHINES).order_by(MACHINES.c.name)).all()
        return self._readable(
            [
                lambda r=r: machine_from(parsed(r.profile), f"machine {r.name}")  # type: ignore[misc]
                for r in rows
            ],
            [f"The machine profile {r.name!r}" for r in rows],
            "tell it anew with `troubleshoot machine new`",
        )

    def save_run(self, machine: str, run: Run) -> None:
        """Keep one entry of a machine's run log."""
        row = {"machine": machine, "at": run.at, "kind": run.kind,
               "data": json.dumps(run.as_data())}  # fmt: skip
        self.write(lambda db: db.execute(RUNS.insert().values(row)))

    def runs(self, machine: str) -> list[Run]:
        """The run log of a machine, oldest first, without what cannot be read."""
        with self.reading() as db:
            rows = db.execute(
                sa.select(RUNS).where(RUNS.c.machine == machine).order_by(RUNS.c.id)
            ).all()
        return self._readable(
            [lambda r=r: Run.of(r.at, r.kind, parsed(r.data)) for r in rows],  # type: ignore[misc]
            [f"A run of {machine} at {r.at}" for r in rows],
            "note it anew with `troubleshoot run`",
        )

    def _readable(self, reads: list[Callable[[], T]], names: list[str], remedy: str) -> list[T]:
        out = []
        for read, name in zip(reads, names, strict=True):
            try:
                out.append(read())
            except (UserError, ValueError, TypeError, KeyError, AttributeError):
                self._warn(f"{name} cannot be read and is left out: {remedy}.")
        return out


def row_of_entry(entry: Entry) -> dict[str, Any]:
    """An entry as the columns of its row."""
    return {
        "number": entry.number, "at": entry.at, "kind": entry.kind,
        "data": json.dumps(dict(entry.data), sort_keys=True),
    }  # fmt: skip


def keep_record(db: sa.Connection, case: int) -> None:
    """Write what the journal says into the row of its case: the list, what was tried, the words."""
    row, journal = _row(db, case), journal_in(db, case)
    db.execute(CASES.update().where(CASES.c.id == case).values(listed(journal, row.opened_at)))
    db.execute(REMEDIES.delete().where(REMEDIES.c.case_id == case))
    for tried in remedies(journal):
        db.execute(REMEDIES.insert().values(case_id=case, **tried))
    words.keep(db, case, words.words_of(journal, row.name, row.coater))


def locked(db: sa.Connection, case: int) -> sa.Row[Any]:
    """The row of a case that is about to be changed by nobody else."""
    return _row(db, case, lock=True)


def _row(db: sa.Connection, case: int, *, lock: bool = False) -> sa.Row[Any]:
    """The row of a case. Raises `UserError` for a number that does not exist."""
    wanted = sa.select(CASES).where(CASES.c.id == max(0, min(case, LARGEST)))
    row = db.execute(wanted.with_for_update() if lock else wanted).one_or_none()
    if row is None:
        raise UserError(f"There is no case {case}: `troubleshoot cases list` shows them.")
    return row


def journal_in(db: sa.Connection, case: int) -> Journal:
    """The journal of a case, in a transaction that is running. Raises `UserError`."""
    rows = db.execute(
        sa.select(ENTRIES).where(ENTRIES.c.case_id == case).order_by(ENTRIES.c.number)
    )
    return tuple(
        Entry(r.number, r.at, r.kind, _read(r.data, f"Entry {r.number} of case {case}", case))
        for r in rows
    )


def _read(kept: Any, what: str, case: int) -> dict[str, Any]:
    try:
        return parsed(kept)
    except (ValueError, TypeError) as error:
        raise UserError(
            f"{what} is damaged ({error}); the other cases are whole. Put the casebook's last "
            f"backup back, or take the case out with `troubleshoot cases delete {case}`."
        ) from None


def parsed(kept: Any) -> dict[str, Any]:
    """The keys that a column of text holds. Raises ValueError or TypeError where it holds none."""
    found = json.loads(kept)
    if not isinstance(found, dict):
        raise ValueError("it holds no keys")
    return found
