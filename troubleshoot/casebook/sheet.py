"""The list of cases as a table for a spreadsheet."""

import csv
import io
from collections.abc import Iterable, Mapping

from troubleshoot.casebook.record import CaseRow

COLUMNS = (
    "number", "opened", "closed", "status", "coater", "title", "complaint", "outcome", "cause",
    "proved", "minutes", "role", "complaint_id", "cause_id",
)  # fmt: skip
FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def table(rows: Iterable[CaseRow], names: Mapping[str, str]) -> str:
    """CSV with one line a case. `names`: what an ID of the rule base is called."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for row in rows:
        said = (
            row.id, row.opened_at, row.closed_at, row.status, row.coater, row.called,
            names.get(row.complaint or "", row.complaint), row.outcome,
            "; ".join(names.get(c, c) for c in row.causes), "yes" if row.proved else "no",
            row.minutes, row.role, row.complaint, row.cause,
        )  # fmt: skip
        writer.writerow([defused(value) for value in said])
    return out.getvalue()


def defused(value: object) -> object:
    """Text that a spreadsheet would take for a formula gets a quote before it, and stays text."""
    if isinstance(value, str) and value.lstrip(" ").startswith(FORMULA):
        return f"'{value}"
    return "" if value is None else value
