"""Whether the clock is wrong, or was when something was kept: what is due or recent goes by it."""

from datetime import datetime, timedelta

import sqlalchemy as sa

from troubleshoot.casebook.schema import CASES, RUNS
from troubleshoot.casebook.store import Store

LOST = "1971"
"""A computer that has lost the time begins at 1970 (POSIX.1, "Seconds Since the Epoch")."""
AHEAD = timedelta(hours=26)
"""The clocks of no two places on earth differ by more (UTC+14 and UTC-12)."""


def doubt(store: Store, now: str) -> str | None:
    """What cannot be true of the clock at `now` and of the times that are kept, in a sentence."""
    if now < LOST:
        return (
            f"This computer's clock says {now[:10]}, which is wrong: set it before you go on, for "
            "what is due, waits or is recent goes by it."
        )
    latest = (datetime.fromisoformat(now) + AHEAD).isoformat()
    with store.reading() as db:
        for what, name, at in (
            ("Case", CASES.c.id, CASES.c.opened_at),
            ("A run of", RUNS.c.machine, RUNS.c.at),
        ):
            for order in (at.desc(), at):
                found = db.execute(sa.select(name, at).order_by(order).limit(1)).one_or_none()
                if found is None or not isinstance(found[1], str):
                    continue
                kept = f"{what} {found[0]} is dated {found[1][:10]}"
                if found[1] > latest:
                    return (
                        f"{kept}, later than this computer's clock ({now[:10]}): set the clock if "
                        "it is this one that is wrong. What is due or recent, and the order of the "
                        "cases, may not be true."
                    )
                if found[1] < LOST:
                    return (
                        f"{kept}: the clock was wrong when it was kept. What is due, and the days "
                        "between faults, may not be true."
                    )
    return None
