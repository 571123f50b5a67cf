"""Earlier cases like this one: the same complaint, and answers that agree."""

import json
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import sqlalchemy as sa

from troubleshoot.case.entries import Finding
from troubleshoot.case.journal import Entry, Journal, standing
from troubleshoot.casebook.record import CLOSED, CaseRow
from troubleshoot.casebook.schema import ENTRIES
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.wanted import Wanted

LOOKED_THROUGH = 300
"""So many closed cases of the complaint are compared, the newest."""
SAME_COATER = 0.25
"""What the same coater adds, where one answer that agrees adds about 1. Judgement."""
DOUBT = 2.0
"""Answers that must be in common before agreement counts half. Judgement."""

Answers = Mapping[str, str]


@dataclass(frozen=True)
class Alike:
    """A closed case, and the findings on which it agrees and differs."""

    case: CaseRow
    agree: tuple[str, ...]
    differ: tuple[str, ...]
    score: float


def alike(
    store: Store, journal: Journal, complaint: str, coater: str, case: int | None = None
) -> list[Alike]:
    """Closed cases with this complaint, most alike first, those that contradict it left out.

    `case` is the number of the case itself, which is not like itself.
    """
    wanted = Wanted(status=(CLOSED,), complaint=complaint, limit=LOOKED_THROUGH)
    rows = [row for row in store.cases(wanted) if row.id != case]
    mine, theirs = answers(journal), _answers_of(store, [row.id for row in rows])
    found = [compare(row, mine, theirs.get(row.id, {}), coater) for row in rows]
    return sorted(
        (a for a in found if len(a.agree) >= len(a.differ)), key=lambda a: (-a.score, -a.case.id)
    )


def compare(row: CaseRow, mine: Answers, theirs: Answers, coater: str) -> Alike:
    """How alike two cases are: the share of common findings that agree, less if they are few."""
    common = sorted(mine.keys() & theirs.keys())
    agree = tuple(name for name in common if mine[name] == theirs[name])
    differ = tuple(name for name in common if mine[name] != theirs[name])
    score = (len(agree) - len(differ)) / (len(common) + DOUBT)
    return Alike(row, agree, differ, score + SAME_COATER * (row.coater == coater))


def answers(journal: Journal) -> dict[str, str]:
    """The first answer to each finding: later ones may be of a coater that was mended meanwhile."""
    out: dict[str, str] = {}
    for entry in standing(journal):
        answer = entry.data.get("answer") if entry.kind == Finding.kind else None
        if isinstance(answer, str):
            out.setdefault(str(entry.data.get("finding")), answer)
    return out


def _answers_of(store: Store, cases: Sequence[int]) -> dict[int, dict[str, str]]:
    """The answers of many cases by one query; what cannot be read says nothing."""
    kinds = (Finding.kind, "retract", "corrected")
    query = (
        sa.select(ENTRIES)
        .where(ENTRIES.c.case_id.in_(cases), ENTRIES.c.kind.in_(kinds))
        .order_by(ENTRIES.c.case_id, ENTRIES.c.number)
    )
    kept: dict[int, list[Entry]] = defaultdict(list)
    with store.reading() as db:
        for row in db.execute(query):
            try:
                kept[row.case_id].append(Entry(row.number, row.at, row.kind, json.loads(row.data)))
            except ValueError:
                continue
    return {case: answers(tuple(journal)) for case, journal in kept.items()}


def ended_as(found: Sequence[Alike]) -> list[tuple[str, int]]:
    """What the cases were, most frequent first; those of which nobody knows are left out."""
    return Counter(cause for a in found for cause in a.case.causes).most_common()
