"""Where cases and machine profiles are kept: an SQLite file, or a PostgreSQL server for a lab.

Every journal entry is one committed transaction, so nothing that was answered can be lost. What the
list of cases says is written with it, so that the list is one query.
"""

import json
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa

from troubleshoot.case.journal import Entry, Journal
from troubleshoot.casebook.migrations import bring_up_to_date
from troubleshoot.casebook.place import data_folder, is_url, shown
from troubleshoot.casebook.record import CaseRow, listed
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from
from troubleshoot.errors import UserError
from troubleshoot.upkeep.run import Run

_META = sa.MetaData()
_CASES = sa.Table(
    "cases",
    _META,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("opened_at", sa.Text, nullable=False),
    sa.Column("machine", sa.Text, nullable=False),
    sa.Column("complaint", sa.Text),
    sa.Column("parked_until", sa.Text),
    sa.Column("parked_on", sa.Text),
    sa.Column("outcome", sa.Text),
    sa.Column("cause", sa.Text),
    sa.Column("last_at", sa.Text),
    sa.Column("status", sa.Text),
    sa.Column("entries", sa.Integer),
)
_ENTRIES = sa.Table(
    "entries",
    _META,
    sa.Column("case_id", sa.ForeignKey("cases.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("data", sa.Text, nullable=False),
)
_MACHINES = sa.Table(
    "machines",
    _META,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("profile", sa.Text, nullable=False),
)
_RUNS = sa.Table(
    "runs",
    _META,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("machine", sa.Text, nullable=False, index=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("data", sa.Text, nullable=False),
)


_LIST = [c for c in _CASES.c if c.name != "machine"]
_SERVER = "postgresql+psycopg"
_SCHEMES = ("sqlite", "postgresql", "postgres", _SERVER)
LARGEST = 2**31 - 1
"""No casebook holds a larger case number."""


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
            self._engine = _engine(named, self.place)
            bring_up_to_date(self._engine, _META, self.place)

    @contextmanager
    def _usable(self) -> Iterator[None]:
        """Raises `UserError` when the casebook cannot be read or written."""
        try:
            yield
        except sa.exc.IntegrityError:
            raise
        except (sa.exc.DBAPIError, sa.exc.NoResultFound) as error:
            reason = str(getattr(error, "orig", error)).splitlines()[0].rstrip(".")
            raise UserError(
                f"{self.place} is not a usable casebook ({reason}): {self._remedy}."
            ) from None

    @contextmanager
    def _transaction(self) -> Iterator[sa.Connection]:
        with self._usable(), self._engine.begin() as db:
            yield db

    def new_case(self, name: str, at: str, machine: Machine) -> int:
        """Open a case and give its number."""
        with self._transaction() as db:
            row = db.execute(
                _CASES.insert().values(
                    name=name,
                    opened_at=at,
                    machine=json.dumps(machine.as_dict()),
                    **listed((), at),
                )
            )
            key = row.inserted_primary_key
            assert key is not None
            return int(key[0])

    def set_machine(self, case: int, machine: Machine) -> None:
        """Keep the machine profile of a case."""
        with self._transaction() as db:
            db.execute(
                _CASES.update()
                .where(_CASES.c.id == case)
                .values(machine=json.dumps(machine.as_dict()))
            )

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
            with self._transaction() as db:
                db.execute(_ENTRIES.insert().values(row))
                said = listed(_journal(db, case), entry.at)
                db.execute(_CASES.update().where(_CASES.c.id == case).values(said))
        except sa.exc.IntegrityError:
            raise UserError(
                f"Case {case} was gone on with in another window meanwhile: take it up again with "
                f"`troubleshoot diagnose --resume --case {case}`."
            ) from None

    def journal(self, case: int) -> Journal:
        """The journal of a case. Raises `UserError` for a number that does not exist."""
        self._row(case)
        with self._transaction() as db:
            return _journal(db, case)

    def machine_of(self, case: int) -> Machine:
        """The machine profile that the case was opened with."""
        return machine_from(json.loads(self._row(case).machine), f"case {case}")

    def _row(self, case: int) -> Any:
        with self._transaction() as db:
            wanted = sa.select(_CASES).where(_CASES.c.id == max(0, min(case, LARGEST)))
            row = db.execute(wanted).one_or_none()
        if row is None:
            raise UserError(f"There is no case {case}: `troubleshoot cases list` shows them.")
        return row

    def cases(self) -> list[CaseRow]:
        """All cases, newest first."""
        with self._transaction() as db:
            rows = db.execute(sa.select(*_LIST).order_by(_CASES.c.id.desc())).all()
        return [CaseRow(**r._mapping) for r in rows]

    def save_machine(self, machine: Machine) -> None:
        """Keep a machine profile under its name."""
        profile = json.dumps(machine.as_dict())
        with self._transaction() as db:
            db.execute(_MACHINES.delete().where(_MACHINES.c.name == machine.name))
            db.execute(_MACHINES.insert().values(name=machine.name, profile=profile))

    def machines(self) -> list[Machine]:
        """All machine profiles, by name."""
        with self._transaction() as db:
            rows = db.execute(sa.select(_MACHINES).order_by(_MACHINES.c.name)).all()
        return [machine_from(json.loads(r.profile), f"machine {r.name}") for r in rows]

    def save_run(self, machine: str, run: Run) -> None:
        """Keep one entry of a machine's run log."""
        with self._transaction() as db:
            db.execute(
                _RUNS.insert().values(
                    machine=machine, at=run.at, kind=run.kind, data=json.dumps(run.as_data())
                )
            )

    def runs(self, machine: str) -> list[Run]:
        """The run log of a machine, in the order in which it was written."""
        with self._transaction() as db:
            rows = db.execute(
                sa.select(_RUNS).where(_RUNS.c.machine == machine).order_by(_RUNS.c.id)
            ).all()
        return [Run.of(r.at, r.kind, json.loads(r.data)) for r in rows]


def _journal(db: sa.Connection, case: int) -> Journal:
    rows = db.execute(
        sa.select(_ENTRIES).where(_ENTRIES.c.case_id == case).order_by(_ENTRIES.c.number)
    )
    return tuple(Entry(r.number, r.at, r.kind, json.loads(r.data)) for r in rows)


def _engine(named: str | None, place: str) -> sa.Engine:
    """The engine of a casebook, tried once. Raises `UserError` for a name that leads nowhere."""
    remedy = "write the path of an SQLite file, or a URL such as postgresql://user@server/casebook"
    try:
        if named is not None and is_url(named):
            url = sa.make_url(named)
        else:
            url = sa.URL.create("sqlite", database=place)
        if url.drivername not in _SCHEMES:
            raise UserError(f"{place}: cases are kept in SQLite or PostgreSQL only; {remedy}.")
        if url.drivername == "sqlite":
            engine = sa.create_engine(url)
            _transactions_of_our_own(engine)
        else:
            # A server that does not answer is told soon, and one that was away is asked again.
            engine = sa.create_engine(
                url.set(drivername=_SERVER),
                connect_args={"connect_timeout": 10},
                pool_pre_ping=True,
            )
        engine.connect().close()
    except ImportError as error:
        raise UserError(
            f"{place} needs a driver that is not installed ({error}): install it with "
            "pip install 'sputter-troubleshoot[postgres]'."
        ) from None
    except (sa.exc.ArgumentError, TypeError, ValueError) as error:
        reason = str(error).splitlines()[0].rstrip(".")
        raise UserError(f"{place} is not a usable casebook ({reason}): {remedy}.") from None
    return engine


def _transactions_of_our_own(engine: sa.Engine) -> None:
    """Let SQLite roll back tables and columns too, which its driver begins no transaction for."""

    @sa.event.listens_for(engine, "connect")
    def _(connection: Any, record: Any) -> None:
        connection.isolation_level = None

    @sa.event.listens_for(engine, "begin")
    def _(db: sa.Connection) -> None:
        immediate = db.get_execution_options().get("immediate")
        db.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")
