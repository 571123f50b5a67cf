"""The closed cases counted for learning, by the database.

A case counts as much as it is proved and recent: `learn_unproved` where nobody says how the cause
is known, and half after `learn_half_life` months; the cases of a year are taken as of its middle,
so that there are few sums to fetch. An open case counts nothing, nor
one of which nobody knows what it was. What was corrected, opened again or deleted counts as it
stands now, since the counts are made anew each time.
"""

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime
from functools import cache, partial
from typing import Any

import sqlalchemy as sa

from troubleshoot.casebook.record import CLOSED
from troubleshoot.casebook.schema import CASES, REMEDIES
from troubleshoot.casebook.store import Store
from troubleshoot.knowledge.model import RECHECK, Settings
from troubleshoot.reasoning.learned import NOTHING_WRONG, Tally

CURED = RECHECK[0]
MIDDLE = 6
"""The month that stands for its year."""


def tally(
    store: Store, coater: str, at: str, settings: Settings, without: int | None = None
) -> Tally:
    """The closed cases as they stand at that time, seen from one coater.

    `without`: a case that is not counted, so that it does not speak for itself.
    """
    ends, tries = queries(settings, without)
    counted = cache(partial(weight, at=at, half_life=settings.learn_half_life))
    here: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    lab: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    tried: dict[tuple[str, str], float] = defaultdict(float)
    cured: dict[tuple[str, str], float] = defaultdict(float)
    cases = 0
    with store.reading() as db:
        for of, complaint, cause, _, year, counts, number in db.execute(ends):
            names = cause.split(", ") if cause else [NOTHING_WRONG]
            each = float(counts) * counted(year) / len(names)
            for name in names:
                (here if of == coater else lab)[complaint][name] += each
            cases += number
        for action, cause, now, year, counts in db.execute(tries):
            if ", " in cause:
                continue  # of two causes nobody knows which one it cured
            each = float(counts) * counted(year)
            tried[action, cause] += each
            cured[action, cause] += each * (now == CURED)
    cures: dict[str, dict[str, tuple[float, float]]] = defaultdict(dict)
    for (action, cause), n in tried.items():
        cures[action][cause] = round(n, 4), round(cured[action, cause], 4)
    return Tally(_rounded(here), _rounded(lab), dict(cures), cases)


def _rounded(place: Mapping[str, Mapping[str, float]]) -> dict[str, dict[str, float]]:
    return {q: {end: round(n, 4) for end, n in ends.items()} for q, ends in place.items()}


def queries(
    settings: Settings, without: int | None = None
) -> tuple[sa.Select[Any], sa.Select[Any]]:
    """How the cases of each year ended, and how often each remedy cured: sums over closed cases."""
    c = CASES.c
    counts = sa.func.sum(sa.case((c.proved == 1, 1.0), else_=settings.learn_unproved))
    year = sa.func.substr(c.closed_at, 1, 4)
    ended = [c.status == CLOSED, c.complaint.is_not(None)]
    if without is not None:
        ended.append(c.id != without)
    how = (c.coater, c.complaint, c.cause, c.outcome, year)
    ends = (
        sa.select(*how[:-1], year.label("year"), counts.label("counts"), sa.func.count())
        .where(*ended, sa.or_(c.cause.is_not(None), c.outcome == "normal"))
        .group_by(*how)
    )
    what = (REMEDIES.c.action, c.cause, REMEDIES.c.complaint_now, year)
    tries = (
        sa.select(*what[:-1], year.label("year"), counts.label("counts"))
        .join(CASES, c.id == REMEDIES.c.case_id)
        .where(*ended, c.cause.is_not(None), REMEDIES.c.complaint_now.in_(RECHECK))
        .group_by(*what)
    )
    return ends, tries


def weight(year: str, at: str, half_life: float) -> float:
    """What a case of that year counts at that time: half after `half_life` months."""
    now = datetime.fromisoformat(at)
    age = 12 * (now.year - int(year)) + now.month - MIDDLE
    return float(0.5 ** (max(0, age) / half_life))
