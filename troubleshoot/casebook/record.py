"""One line of the list of cases, and the part of it that follows from the journal."""

from dataclasses import dataclass
from typing import Any

from troubleshoot.case.entries import Closed, Complaint, Note, Parked
from troubleshoot.case.journal import Journal, standing

LISTED = {said.kind for said in (Complaint, Closed, Parked)}
"""Only these are read, so that an entry of a newer version does not hide the case."""


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
        said = entry.said if entry.kind in LISTED else None
        if isinstance(said, Complaint):
            complaint = said.complaint
        elif isinstance(said, Closed):
            outcome, cause = said.outcome, ", ".join(said.causes) or None
        if isinstance(said, Parked):
            until, parked_on = said.until, said.action
        elif entry.kind != Note.kind:
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
