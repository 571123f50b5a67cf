"""One line of the list of cases, and the part of it that follows from the journal."""

from dataclasses import dataclass
from typing import Any

from troubleshoot.case.journal import Journal, causes_named, standing


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


def listed(journal: Journal, opened_at: str) -> dict[str, Any]:
    """What a line of the list says because the journal does, by column."""
    complaint = outcome = cause = until = parked_on = None
    for entry in standing(journal):
        if entry.kind == "complaint":
            complaint = entry.data["complaint"]
        elif entry.kind == "closed":
            outcome, cause = entry.data["outcome"], ", ".join(causes_named(entry.data)) or None
        if entry.kind == "parked":
            until, parked_on = entry.data["until"], entry.data["action"]
        elif entry.kind != "note":
            until = parked_on = None
    return {
        "last_at": journal[-1].at if journal else opened_at,
        "complaint": complaint,
        "status": "closed" if outcome else "parked" if until else "open",
        "parked_until": until,
        "parked_on": parked_on,
        "outcome": outcome,
        "cause": cause,
        "entries": len(journal),
    }
