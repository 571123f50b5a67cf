"""How drills went: kept by role, beside the lab's cases and never among them.

No statistics and no learning read this table (`tests/training/test_drill.py` holds them to it).
"""

import json
from dataclasses import asdict, dataclass
from typing import Any

import sqlalchemy as sa

from troubleshoot.casebook.schema import DRILLS
from troubleshoot.casebook.store import Store, parsed


@dataclass(frozen=True)
class Kept:
    """One drill: when, of which level and seed, whether it was right, and what it took.

    `minutes` on the simulated clock, `by_plan` those of the planner on the same coater; `spoilt`
    specimens; `stopped` choices that were hazardous.
    """

    at: str
    role: str
    level: int
    seed: int
    complaint: str
    right: bool
    minutes: float
    by_plan: float
    spoilt: int
    stopped: int
    exam: bool = False


def keep(store: Store, drill: Kept) -> None:
    """Keep how a drill went. Raises `UserError` when the casebook cannot be written."""
    data = asdict(drill)
    row: dict[str, Any] = {"at": data.pop("at"), "role": data.pop("role"), "data": json.dumps(data)}
    store.write(lambda db: db.execute(DRILLS.insert().values(row)))


def kept(store: Store, role: str) -> list[Kept]:
    """The drills of a role, oldest first; what cannot be read is left out."""
    with store.reading() as db:
        query = sa.select(DRILLS).where(DRILLS.c.role == role).order_by(DRILLS.c.id)
        rows = db.execute(query).all()
    out = []
    for row in rows:
        try:
            out.append(Kept(at=row.at, role=row.role, **parsed(row.data)))
        except (ValueError, TypeError):
            continue
    return out
