"""Where cases and machine profiles are kept: SQLite by default, any SQLAlchemy URL if given.

Every journal entry is one committed transaction, so nothing that was answered can be lost.
"""

import json
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from troubleshoot.case.journal import Entry, Journal, standing
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


@dataclass(frozen=True)
class CaseRow:
    """One line of the list of cases."""

    id: int
    name: str
    opened_at: str
    last_at: str
    complaint: str | None
    status: str  # "open", "parked" or "closed"
    parked_until: str | None
    parked_on: str | None
    outcome: str | None
    cause: str | None
    entries: int


def data_folder() -> Path:
    """The folder of the user's data; `TROUBLESHOOT_DATA` names another one."""
    named = os.environ.get("TROUBLESHOOT_DATA")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_data_dir("troubleshoot", appauthor=False))


class Store:
    """The lab's cases and machine profiles."""

    def __init__(self, url: str | None = None) -> None:
        self.place = url or ""
        if url is None:
            folder = data_folder()
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise UserError(
                    f"{folder} cannot be made ({error.strerror}): set TROUBLESHOOT_DATA to a "
                    "folder that can be written."
                ) from None
            self.place = str(folder / "cases.db")
            url = f"sqlite:///{self.place}"
        try:
            self._engine = sa.create_engine(url)
        except (sa.exc.ArgumentError, ImportError) as error:
            raise self._unusable(error) from None
        with self._transaction() as db:
            _META.create_all(db)

    def _unusable(self, error: Exception) -> UserError:
        return UserError(
            f"{self.place} is not a usable case store ({str(error).splitlines()[0]}): mend or move "
            "it, or name another folder in TROUBLESHOOT_DATA."
        )

    @contextmanager
    def _transaction(self) -> Iterator[sa.Connection]:
        """One transaction. Raises `UserError` when the store cannot be read or written."""
        try:
            with self._engine.begin() as db:
                yield db
        except sa.exc.IntegrityError:
            raise
        except sa.exc.DatabaseError as error:
            raise self._unusable(error) from None

    def new_case(self, name: str, at: str, machine: Machine) -> int:
        """Open a case and give its number."""
        with self._transaction() as db:
            row = db.execute(
                _CASES.insert().values(
                    name=name, opened_at=at, machine=json.dumps(machine.as_dict())
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
        """Keep one journal entry, in a transaction of its own.

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
        except sa.exc.IntegrityError:
            raise UserError(
                f"Case {case} was gone on with in another window meanwhile: take it up again with "
                f"`troubleshoot diagnose --resume --case {case}`."
            ) from None

    def journal(self, case: int) -> Journal:
        """The journal of a case. Raises `UserError` for a number that does not exist."""
        self._row(case)
        with self._transaction() as db:
            rows = db.execute(
                sa.select(_ENTRIES).where(_ENTRIES.c.case_id == case).order_by(_ENTRIES.c.number)
            )
            return tuple(Entry(r.number, r.at, r.kind, json.loads(r.data)) for r in rows)

    def machine_of(self, case: int) -> Machine:
        """The machine profile that the case was opened with."""
        return machine_from(json.loads(self._row(case).machine), f"case {case}")

    def _row(self, case: int) -> Any:
        case = min(case, 2**63 - 1)  # no database holds a larger number
        with self._transaction() as db:
            row = db.execute(sa.select(_CASES).where(_CASES.c.id == case)).one_or_none()
        if row is None:
            raise UserError(f"There is no case {case}: `troubleshoot cases list` shows them.")
        return row

    def cases(self) -> list[CaseRow]:
        """All cases, newest first."""
        with self._transaction() as db:
            rows = db.execute(sa.select(_CASES).order_by(_CASES.c.id.desc())).all()
        return [_row_of(r, self.journal(r.id)) for r in rows]

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


def _row_of(row: Any, journal: Sequence[Entry]) -> CaseRow:
    complaint = outcome = cause = until = parked_on = None
    for entry in standing(tuple(journal)):
        if entry.kind == "complaint":
            complaint = entry.data["complaint"]
        if entry.kind == "closed":
            outcome, cause = entry.data["outcome"], entry.data.get("cause")
        until = entry.data["until"] if entry.kind == "parked" else until
        parked_on = entry.data["action"] if entry.kind == "parked" else parked_on
        if entry.kind not in ("parked", "note"):
            until = parked_on = None
    return CaseRow(
        id=row.id,
        name=row.name,
        opened_at=row.opened_at,
        last_at=journal[-1].at if journal else row.opened_at,
        complaint=complaint,
        status="closed" if outcome else "parked" if until else "open",
        parked_until=until,
        parked_on=parked_on,
        outcome=outcome,
        cause=cause,
        entries=len(journal),
    )
