"""The shape of a casebook, version by version: an older one is brought up to date and kept whole.

A step takes a casebook from the version that is its place in `STEPS` to the next, in a transaction
that is all or nothing. A step that was ever released is never changed: it names its columns itself,
so that it does not follow `store`, which knows the latest shape only.
"""

import json
from collections.abc import Callable, Sequence

from troubleshoot.case.journal import Entry
from troubleshoot.casebook.database import Database, Transaction
from troubleshoot.casebook.record import listed
from troubleshoot.errors import UserError

FIRST = {"cases", "entries", "machines", "runs"}
"""The tables of version 0, which kept no version."""


def list_columns(do: Transaction) -> None:
    """0 to 1: the record of a case holds what the list of cases says of it."""
    texts = ("complaint", "parked_until", "parked_on", "outcome", "cause")
    for column in texts:
        do(f"ALTER TABLE cases ADD COLUMN {column} TEXT")
    for column in ("last_at TEXT", "status TEXT", "entries INTEGER"):
        do(f"ALTER TABLE cases ADD COLUMN {column}")
    columns = (*texts, "last_at", "status", "entries")
    fill = ", ".join(f"{c} = :{c}" for c in columns)
    for case in do("SELECT id, opened_at FROM cases"):
        rows = do(
            "SELECT number, at, kind, data FROM entries WHERE case_id = :case ORDER BY number",
            case=case["id"],
        )
        journal = tuple(Entry(r["number"], r["at"], r["kind"], json.loads(r["data"])) for r in rows)
        found = listed(journal, case["opened_at"])
        do(
            f"UPDATE cases SET {fill} WHERE id = :case",
            case=case["id"], **{c: found[c] for c in columns},
        )  # fmt: skip


STEPS: tuple[Callable[[Transaction], None], ...] = (list_columns,)
LATEST = len(STEPS)


def bring_up_to_date(database: Database, tables: Sequence[str], place: str) -> None:
    """Make the tables of an empty database, or take an older casebook step by step to the latest.

    Each step is one transaction, during which no other program opens the casebook to change it.
    Raises `UserError` when the casebook is of a newer version, or a database of something else.
    """
    with database.transaction() as do:  # only a look: what cannot be written can still be read
        found = _version(database, do, place)
    while found != LATEST:
        with database.transaction(alone=True) as do:
            found = _version(database, do, place)
            if found is None:
                for table in tables:
                    do(table)
                do("CREATE TABLE casebook (version INTEGER NOT NULL)")
                do(f"INSERT INTO casebook VALUES ({LATEST})")
                found = LATEST
            elif found < LATEST:
                if found == 0:
                    do("CREATE TABLE casebook (version INTEGER NOT NULL)")
                    do("INSERT INTO casebook VALUES (0)")
                STEPS[found](do)
                found += 1
                do(f"UPDATE casebook SET version = {found}")


def _version(database: Database, do: Transaction, place: str) -> int | None:
    """The version of a casebook; None of an empty database."""
    names = database.tables(do)
    if not names:
        return None
    if "casebook" not in names:
        if names >= FIRST:
            return 0
        raise UserError(
            f"{place} is not a casebook, but a database of something else: name another one, or a "
            "new and empty one."
        )
    versions = [int(row["version"]) for row in do("SELECT version FROM casebook")]
    if len(versions) != 1:
        raise UserError(
            f"{place} is not a usable casebook (it does not say of which version it is): take a "
            "copy that was kept, or name another one."
        )
    if versions[0] > LATEST:
        raise UserError(
            f"{place} was written by a newer version of this program (casebook {versions[0]}; this "
            f"one knows up to {LATEST}): install the newer one, or name another casebook."
        )
    return versions[0]
