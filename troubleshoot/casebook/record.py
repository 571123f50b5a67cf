"""One line of the list of cases, and what of it follows from the journal."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import datetime
from itertools import pairwise
from typing import Any

from troubleshoot.case.entries import Action, Attached, Closed, Complaint, Note, Parked, Role, Title
from troubleshoot.case.journal import Entry, Journal, standing

OPEN, PARKED, CLOSED, UNREADABLE = "open", "parked", "closed", "unreadable"
STATUSES = (OPEN, PARKED, CLOSED)
LISTED = {said.kind for said in (Complaint, Title, Role, Closed, Parked)}
"""Only these are read, so that an entry of a newer version does not hide the case."""
ASIDE = {said.kind for said in (Note, Title, Attached)}
"""`entries.BESIDE` by name."""
LONGEST_PAUSE = 20.0
"""Minutes between two entries beyond which somebody was elsewhere. Judgement."""


@dataclass(frozen=True)
class CaseRow:
    """One line of the list of cases. `unreadable` where its record is damaged.

    `minutes` spent at it: as told when it was closed, else the time between its entries, pauses cut
    to `LONGEST_PAUSE`, None where there is none. `proved`: what it was is more than a guess.
    """

    id: int
    name: str
    opened_at: str
    last_at: str
    complaint: str | None
    status: str
    parked_until: str | None
    parked_on: str | None
    outcome: str | None
    cause: str | None
    entries: int
    coater: str | None
    title: str | None
    role: str | None
    proved: bool
    minutes: float | None
    closed_at: str | None

    @property
    def causes(self) -> tuple[str, ...]:
        """What it was, one by one."""
        return tuple(self.cause.split(", ")) if self.cause else ()

    @property
    def called(self) -> str:
        """Its title, or the name it was opened with."""
        return self.title or self.name


MUST = ("name", "opened_at", "last_at")
TEXTS = (*MUST, "complaint", "parked_until", "parked_on", "outcome", "cause", "coater", "title",
         "role", "closed_at")  # fmt: skip


def row_of(kept: Mapping[str, Any]) -> CaseRow:
    """The line of one row of the table; a damaged one is said to be so, and never in the way."""
    sound = (
        kept["status"] in STATUSES
        and all(isinstance(kept[name], str) for name in MUST)
        and all(isinstance(kept[name], str | None) for name in TEXTS)
        and isinstance(kept["entries"], int)
        and isinstance(kept["minutes"], float | int | None)
    )
    if sound:
        return CaseRow(**{**kept, "proved": bool(kept["proved"])})
    empty = {f.name: None for f in fields(CaseRow)} | dict.fromkeys(MUST, "")
    told = {n: v for n in MUST if isinstance(v := kept[n], str)}
    return CaseRow(
        **{**empty, **told, "id": kept["id"], "status": UNREADABLE, "entries": 0, "proved": False}
    )


def listed(journal: Journal, opened_at: str) -> dict[str, Any]:
    """What a line of the list says because the journal does, by column."""
    complaint = cause = until = parked_on = title = role = None
    closed: Entry | None = None
    end: Closed | None = None
    for entry in standing(journal):
        said = entry.said if entry.kind in LISTED else None
        if isinstance(said, Complaint):
            complaint = said.complaint
        elif isinstance(said, Title):
            title = said.text
        elif isinstance(said, Role):
            role = said.role
        elif isinstance(said, Closed):
            closed, end = entry, said
            cause = ", ".join(said.causes) or None
        if isinstance(said, Parked):
            until, parked_on = said.until, said.action
        elif entry.kind not in ASIDE:
            until = parked_on = None
    return {
        "last_at": journal[-1].at if journal else opened_at,
        "complaint": complaint,
        "status": CLOSED if end else PARKED if until else OPEN,
        "parked_until": until,
        "parked_on": parked_on,
        "outcome": end.outcome if end else None,
        "cause": cause,
        "entries": len(journal),
        "title": title,
        "role": role,
        "proved": int(end is not None and end.is_proved),
        "minutes": _minutes(journal, closed, end),
        "closed_at": closed.at if closed else None,
    }


def remedies(journal: Journal) -> list[dict[str, Any]]:
    """What was tried, by number of the entry, and what was then seen of the complaint."""
    tried = ((e.number, e.said) for e in standing(journal) if e.kind == Action.kind)
    return [
        {"number": number, "action": said.action, "complaint_now": said.complaint_now}
        for number, said in tried
        if isinstance(said, Action) and said.treats
    ]


def _minutes(journal: Journal, closed: Entry | None, end: Closed | None) -> float | None:
    if end is not None and end.minutes is not None:
        return float(end.minutes)
    upto = journal[: closed.number + 1] if closed else journal
    return _at_it(e.at for e in upto)


def _at_it(times: Iterable[str]) -> float | None:
    """Minutes from the first to the last of some times, each pause cut short."""
    try:
        at = [datetime.fromisoformat(t) for t in times]
        gaps = [(b - a).total_seconds() / 60 for a, b in pairwise(at)]
    except (TypeError, ValueError):
        return None
    return round(sum(min(max(g, 0.0), LONGEST_PAUSE) for g in gaps), 1) or None
