"""What of a case follows from its journal, written anew for the cases of an older casebook."""

import json

import sqlalchemy as sa

from troubleshoot.case.journal import Entry, Journal
from troubleshoot.casebook.record import UNREADABLE, listed
from troubleshoot.errors import UserError


def refill(db: sa.Connection, case: int, opened_at: str, columns: tuple[str, ...]) -> Journal:
    """Write what the journal of a case says into its row; one that cannot be read is marked."""
    rows = db.execute(
        sa.text("SELECT number, at, kind, data FROM entries WHERE case_id = :case ORDER BY number"),
        {"case": case},
    )
    try:
        journal = tuple(Entry(n, at, kind, json.loads(data)) for n, at, kind, data in rows)
        found = listed(journal, opened_at)
    except (ValueError, TypeError, KeyError, UserError):
        journal, found = (), listed((), opened_at) | {"status": UNREADABLE}
        columns = tuple({*columns, "status"})
    fill = ", ".join(f"{c} = :{c}" for c in columns)
    db.execute(
        sa.text(f"UPDATE cases SET {fill} WHERE id = :case"),
        {"case": case, **{c: found[c] for c in columns}},
    )
    return journal
