"""The closed cases counted for learning, by the database.

A case counts as much as it is proved and recent: `learn_unproved` where nobody says how the cause
is known, and half after `learn_half_life` months, to the month. An open case counts nothing, nor
one of which nobody knows what it was. What was corrected, opened again or deleted counts as it
stands now, since the counts are made anew each time.
"""

from collections import defaultdict
from datetime import datetime

import sqlalchemy as sa

from troubleshoot.casebook.record import CLOSED
from troubleshoot.casebook.schema import CASES, REMEDIES
from troubleshoot.casebook.store import Store
from troubleshoot.knowledge.model import Settings
from troubleshoot.reasoning.belief import RECHECK
from troubleshoot.reasoning.learned import NOTHING_WRONG, Tally

HALF_LIVES = 8
"""What is older than so many half-lives (1/256 of a case) is not looked at."""
CURED = RECHECK[0]


def tally(
    store: Store, coater: str, at: str, settings: Settings, without: int | None = None
) -> Tally:
    """The closed cases as they stand at that time, seen from one coater.

    `without`: a case that is not counted, so that it does not speak for itself.
    """
    weight = _weights(at, settings)
    counts = sa.func.sum(
        weight.c.weight * sa.case((CASES.c.proved == 1, 1.0), else_=settings.learn_unproved)
    )
    ended = [CASES.c.status == CLOSED, CASES.c.complaint.is_not(None)]
    if without is not None:
        ended.append(CASES.c.id != without)
    in_month = weight.c.month == sa.func.substr(CASES.c.closed_at, 1, 7)
    ends = (
        sa.select(
            CASES.c.coater, CASES.c.complaint, CASES.c.cause, CASES.c.outcome,
            counts.label("counts"), sa.func.count().label("cases"),
        )
        .join(weight, in_month)
        .where(*ended, sa.or_(CASES.c.cause.is_not(None), CASES.c.outcome == "normal"))
        .group_by(CASES.c.coater, CASES.c.complaint, CASES.c.cause, CASES.c.outcome)
    )  # fmt: skip
    tries = (
        sa.select(
            REMEDIES.c.action, CASES.c.cause, REMEDIES.c.complaint_now, counts.label("counts")
        )
        .join(CASES, CASES.c.id == REMEDIES.c.case_id)
        .join(weight, in_month)
        .where(*ended, CASES.c.cause.is_not(None), REMEDIES.c.complaint_now.in_(RECHECK))
        .group_by(REMEDIES.c.action, CASES.c.cause, REMEDIES.c.complaint_now)
    )
    here: dict[str, dict[str, float]] = {}
    lab: dict[str, dict[str, float]] = {}
    cures: dict[str, dict[str, tuple[float, float]]] = defaultdict(dict)
    cases = 0
    with store.reading() as db:
        for row in db.execute(ends):
            place = (here if row.coater == coater else lab).setdefault(row.complaint, {})
            names = row.cause.split(", ") if row.cause else [NOTHING_WRONG]
            for name in names:
                place[name] = round(place.get(name, 0.0) + float(row.counts) / len(names), 4)
            cases += row.cases
        for row in db.execute(tries):
            if ", " in row.cause:
                continue  # of two causes nobody knows which one it cured
            tried, cured = cures[row.action].get(row.cause, (0.0, 0.0))
            counted = float(row.counts)
            cures[row.action][row.cause] = (
                round(tried + counted, 4),
                round(cured + counted * (row.complaint_now == CURED), 4),
            )
    return Tally(here, lab, dict(cures), cases)


def _weights(at: str, settings: Settings) -> sa.CTE:
    """What a case counts by the month in which it was closed."""
    now = datetime.fromisoformat(at)
    last = now.year * 12 + now.month - 1
    half = settings.learn_half_life
    rows = [
        (f"{(last - age) // 12:04}-{(last - age) % 12 + 1:02}", 0.5 ** (age / half))
        for age in range(round(HALF_LIVES * half) + 1)
    ]
    columns = sa.column("month", sa.Text), sa.column("weight", sa.Float)
    return sa.values(*columns, name="ages").data(rows).cte("ages")
