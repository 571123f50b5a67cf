"""The shape of a casebook, version by version: an older one is brought up to date and kept whole.

A step takes a casebook from the version that is its place in `STEPS` to the next, on a connection
whose transaction is all or nothing. A step that was ever released is never changed: it speaks SQL
and names its columns itself, so that it does not follow `store`, which knows the latest shape only.
"""

import json
from collections.abc import Callable

import sqlalchemy as sa

from troubleshoot.case.journal import Entry
from troubleshoot.casebook.record import listed
from troubleshoot.errors import UserError

FIRST = {"cases", "entries", "machines", "runs"}
"""The tables of version 0, which kept no version."""
LOCK = 7102
"""Any number, the same for every program that opens a casebook on a server."""


def list_columns(db: sa.Connection) -> None:
    """0 to 1: the record of a case holds what the list of cases says of it."""
    texts = ("complaint", "parked_until", "parked_on", "outcome", "cause")
    for column in texts:
        db.execute(sa.text(f"ALTER TABLE cases ADD COLUMN {column} TEXT"))
    for column in ("last_at TEXT", "status TEXT", "entries INTEGER"):
        db.execute(sa.text(f"ALTER TABLE cases ADD COLUMN {column}"))
    columns = (*texts, "last_at", "status", "entries")
    fill = ", ".join(f"{c} = :{c}" for c in columns)
    for case, opened_at in db.execute(sa.text("SELECT id, opened_at FROM cases")).all():
        rows = db.execute(
            sa.text(
                "SELECT number, at, kind, data FROM entries WHERE case_id = :case ORDER BY number"
            ),
            {"case": case},
        )
        journal = tuple(Entry(n, at, kind, json.loads(data)) for n, at, kind, data in rows)
        found = listed(journal, opened_at)
        db.execute(
            sa.text(f"UPDATE cases SET {fill} WHERE id = :case"),
            {"case": case, **{c: found[c] for c in columns}},
        )


STEPS: tuple[Callable[[sa.Connection], None], ...] = (list_columns,)
LATEST = len(STEPS)


def bring_up_to_date(engine: sa.Engine, tables: sa.MetaData, place: str) -> None:
    """Make the tables of an empty database, or take an older casebook step by step to the latest.

    Each step is one transaction, during which no other program opens the casebook to change it.
    Raises `UserError` when the casebook is of a newer version, or a database of something else.
    """
    with engine.begin() as db:  # only a look: a casebook that cannot be written can still be read
        found = _version(db, place)
    while found != LATEST:
        with engine.execution_options(immediate=True).begin() as db:
            if engine.dialect.name == "postgresql":
                db.execute(sa.text(f"SELECT pg_advisory_xact_lock({LOCK})"))
            found = _version(db, place)
            if found is None:
                tables.create_all(db)
                db.execute(sa.text("CREATE TABLE casebook (version INTEGER NOT NULL)"))
                db.execute(sa.text(f"INSERT INTO casebook VALUES ({LATEST})"))
                found = LATEST
            elif found < LATEST:
                if found == 0:
                    db.execute(sa.text("CREATE TABLE casebook (version INTEGER NOT NULL)"))
                    db.execute(sa.text("INSERT INTO casebook VALUES (0)"))
                STEPS[found](db)
                found += 1
                db.execute(sa.text(f"UPDATE casebook SET version = {found}"))


def _version(db: sa.Connection, place: str) -> int | None:
    """The version of a casebook; None of an empty database."""
    names = set(sa.inspect(db).get_table_names())
    if not names:
        return None
    if "casebook" not in names:
        if names >= FIRST:
            return 0
        raise UserError(
            f"{place} is not a casebook, but a database of something else: name another one, or a "
            "new and empty one."
        )
    version = int(db.execute(sa.text("SELECT version FROM casebook")).scalar_one())
    if version > LATEST:
        raise UserError(
            f"{place} was written by a newer version of this program (casebook {version}; this one "
            f"knows up to {LATEST}): install the newer one, or name another casebook."
        )
    return version
