"""Which cases a list is to show, as one query."""

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from troubleshoot.casebook import words
from troubleshoot.casebook.schema import CASES, LIST


@dataclass(frozen=True)
class Wanted:
    """What the cases of a list have in common; what is None or empty is not asked.

    `since` and `until` are dates as text (2026-03-02), both included, of the day they were opened.
    `named`: entries of the rule base by ID, any of which will do instead of the `words`.
    `starts`: those too that were left, without a name, before a complaint was given. `limit` 0 is
    no limit.
    """

    status: tuple[str, ...] = ()
    coater: str | None = None
    complaint: str | None = None
    cause: str | None = None
    since: str | None = None
    until: str | None = None
    words: str | None = None
    named: tuple[str, ...] = ()
    starts: bool = True
    limit: int = 0

    def query(self, dialect: str) -> sa.Select[Any]:
        """The rows of `schema.LIST`: newest first, or where words are asked the best match."""
        chosen = sa.select(*LIST).where(*self._conditions())
        found = words.found(dialect, self.words or "", self.named)
        order = (CASES.c.opened_at.desc(), CASES.c.id.desc())
        if found is None:
            chosen = chosen.order_by(*order)
        else:
            chosen = chosen.join(found, found.c.case_id == CASES.c.id)
            chosen = chosen.order_by(found.c.badness, *order)
        return chosen.limit(self.limit) if self.limit else chosen

    def count(self, dialect: str) -> sa.Select[Any]:
        """How many there are, whatever the limit."""
        counted = sa.select(sa.func.count()).select_from(CASES).where(*self._conditions())
        found = words.found(dialect, self.words or "", self.named)
        return counted if found is None else counted.join(found, found.c.case_id == CASES.c.id)

    def _conditions(self) -> list[sa.ColumnElement[bool]]:
        c = CASES.c
        out: list[sa.ColumnElement[bool]] = []
        if self.status:
            out.append(c.status.in_(self.status))
        for column, value in ((c.coater, self.coater), (c.complaint, self.complaint)):
            if value is not None:
                out.append(column == value)
        if self.cause is not None:
            padded = sa.literal(", ") + c.cause + sa.literal(", ")
            out.append(padded.contains(f", {self.cause}, ", autoescape=True))
        if self.since is not None:
            out.append(c.opened_at >= self.since)
        if self.until is not None:
            out.append(sa.func.substr(c.opened_at, 1, 10) <= self.until)
        if not self.starts:
            started = sa.and_(
                c.complaint.is_(None), c.status == "open", c.name == "", c.title.is_(None)
            )
            out.append(sa.not_(started))
        return out
