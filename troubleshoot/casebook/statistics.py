"""What the casebook says of a lab as a whole: each count is one query, made by the database."""

import json
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import sqlalchemy as sa

from troubleshoot.case.entries import UNLISTED, Closed
from troubleshoot.case.journal import standing
from troubleshoot.casebook.record import CLOSED
from troubleshoot.casebook.schema import CASES, ENTRIES, REMEDIES
from troubleshoot.casebook.store import Store
from troubleshoot.knowledge.model import RECHECK

CURED = RECHECK[0]
LOOKED_THROUGH = 500
"""Ends of cases that are read for parts and hours: the newest."""


@dataclass(frozen=True)
class Coater:
    """One coater: its cases, minutes spent on them, the days of the first and the last.

    `most`: the cause that was found most often; None where none was found twice.
    """

    name: str
    cases: int
    minutes: float
    first: str
    last: str
    most: str | None

    @property
    def days_between(self) -> float | None:
        """Mean days from one fault to the next; None of fewer than two."""
        from datetime import date

        if self.cases < 2:
            return None
        span = date.fromisoformat(self.last[:10]) - date.fromisoformat(self.first[:10])
        return span.days / (self.cases - 1)


@dataclass(frozen=True)
class Remedy:
    """How often a remedy was tried, and after how many of these the complaint was gone."""

    action: str
    tried: int
    cured: int


@dataclass(frozen=True)
class Statistics:
    """Counts over cases with a complaint, most first; months in order.

    `minutes` by cause; `parts` and `downtime` (hours) as they were told when cases were closed.
    """

    coaters: tuple[Coater, ...]
    complaints: tuple[tuple[str, int], ...]
    causes: tuple[tuple[str, int], ...]
    minutes: tuple[tuple[str, float], ...]
    months: tuple[tuple[str, int], ...]
    remedies: tuple[Remedy, ...]
    parts: tuple[tuple[str, int], ...]
    downtime: float


def statistics(store: Store, coater: str | None, since: str | None) -> Statistics:
    """The counts, of one coater or all, of cases opened since a day (as text) or all."""
    c = CASES.c
    chosen: list[sa.ColumnElement[bool]] = [c.complaint.is_not(None)]
    if coater is not None:
        chosen.append(c.coater == coater)
    if since is not None:
        chosen.append(c.opened_at >= since)
    number = sa.func.count()
    spent = sa.func.coalesce(sa.func.sum(c.minutes), 0.0)
    month = sa.func.substr(c.opened_at, 1, 7)
    with store.reading() as db:
        coaters = db.execute(
            sa.select(c.coater, number, spent, sa.func.min(c.opened_at), sa.func.max(c.opened_at))
            .where(*chosen, c.coater.is_not(None))
            .group_by(c.coater)
        ).all()
        complaints = db.execute(
            sa.select(c.complaint, number).where(*chosen).group_by(c.complaint)
        ).all()
        months = db.execute(sa.select(month, number).where(*chosen).group_by(month)).all()
        ended = db.execute(
            sa.select(c.coater, c.cause, number, spent)
            .where(*chosen, c.status == CLOSED, c.cause.is_not(None))
            .group_by(c.coater, c.cause)
        ).all()
        tried = db.execute(
            sa.select(
                REMEDIES.c.action,
                number,
                sa.func.sum(sa.case((REMEDIES.c.complaint_now == CURED, 1), else_=0)),
            )
            .join(CASES, c.id == REMEDIES.c.case_id)
            .where(*chosen, REMEDIES.c.complaint_now.in_(RECHECK))
            .group_by(REMEDIES.c.action)
        ).all()
        newest = db.scalars(
            sa.select(c.id)
            .where(*chosen, c.status == CLOSED)
            .order_by(c.opened_at.desc())
            .limit(LOOKED_THROUGH)
        ).all()
    causes, minutes = Counter[str](), Counter[str]()
    by_coater: dict[str, Counter[str]] = defaultdict(Counter)
    for of, names, cases, took in ended:
        for name in names.split(", "):
            causes[name] += cases
            by_coater[of][name] += cases
            minutes[name] += took / len(names.split(", "))
    parts, downtime = _told_at_the_end(store, newest)
    return Statistics(
        coaters=tuple(
            sorted(
                (
                    Coater(name, cases, took, first, last, _most(by_coater[name]))
                    for name, cases, took, first, last in coaters
                ),
                key=lambda k: (-k.cases, k.name),
            )
        ),
        complaints=tuple(sorted(((q, n) for q, n in complaints), key=lambda p: (-p[1], p[0]))),
        causes=tuple(causes.most_common()),
        minutes=tuple((name, float(took)) for name, took in minutes.most_common()),
        months=tuple(sorted((m, n) for m, n in months)),
        remedies=tuple(
            sorted((Remedy(a, n, int(k)) for a, n, k in tried), key=lambda r: (-r.tried, r.action))
        ),
        parts=parts,
        downtime=downtime,
    )


def _most(causes: Counter[str]) -> str | None:
    listed = [name for name, times in causes.items() if name != UNLISTED and times > 1]
    return min(listed, key=lambda name: (-causes[name], name), default=None)


def _told_at_the_end(
    store: Store, cases: Sequence[int]
) -> tuple[tuple[tuple[str, int], ...], float]:
    """The parts that were used, and the hours for which a coater stood still."""
    parts, hours = Counter[str](), 0.0
    with store.reading() as db:
        mentioned = db.scalars(
            sa.select(ENTRIES.c.case_id)
            .where(ENTRIES.c.case_id.in_(cases), ENTRIES.c.kind.in_((Closed.kind, "corrected")))
            .where(sa.or_(ENTRIES.c.data.contains('"part"'), ENTRIES.c.data.contains('"downtime"')))
            .distinct()
        ).all()
    for case in mentioned:
        for entry in standing(store.journal(case)):
            if isinstance(entry.said, Closed):
                if entry.said.part:
                    parts[entry.said.part] += 1
                hours += entry.said.downtime or 0.0
    return tuple(parts.most_common()), hours


def as_text(value: Statistics) -> str:
    """The counts as one JSON object."""
    from dataclasses import asdict

    return json.dumps(asdict(value), indent=2)
