"""Cases made for a test, a minute an entry."""

from troubleshoot.case.journal import Entry
from troubleshoot.coater.machine import Machine

AT = "2026-01-05T09:00:00"
SLOW = ("complaint", {"complaint": "slow"})
CLOSED = ("closed", {"outcome": "cured", "cause": "vent_open", "proved_by": "fault seen"})


def keep(store, *entries, title=None, coater="this coater", at=AT):
    """Keep a case of these entries; its number."""
    if title is not None:
        entries = (*entries[:1], ("title", {"text": title}), *entries[1:])
    journal = tuple(
        Entry(n, f"{at[:14]}{n:02}:00", kind, data) for n, (kind, data) in enumerate(entries)
    )
    return store.new_case("", at, Machine(name=coater), entries=journal)
