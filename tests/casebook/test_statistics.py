"""What the casebook says of the lab as a whole."""

import pytest

from tests.casebook.made import SLOW, keep
from troubleshoot.casebook.statistics import Coater, Remedy, statistics
from troubleshoot.casebook.store import Store

NOISY = ("complaint", {"complaint": "noisy"})


def closed(cause, **more):
    return "closed", {"outcome": "cured", "cause": cause, "proved_by": "fault seen"} | more


def tried(action, now):
    return "action", {"action": action, "complaint_now": now}


@pytest.fixture
def found(named):
    store = Store(named)
    seal = closed("seal", minutes=30, part="an O-ring", downtime=4)
    keep(store, SLOW, tried("wipe", "unchanged"), tried("wipe", "cured"), seal,
         coater="east", at="2026-01-01T09:00:00")  # fmt: skip
    keep(store, SLOW, closed(["seal", "vent"], minutes=20), coater="east", at="2026-01-31T09:00:00")
    keep(store, NOISY, closed("pump", minutes=60), coater="west", at="2026-02-10T09:00:00")
    keep(store, SLOW, coater="east", at="2026-03-02T09:00:00")
    keep(store, coater="east", at="2026-03-03T09:00:00")  # left before a complaint
    return lambda coater=None, since=None: statistics(store, coater, since)


def test_counts_over_the_whole_book(found):
    all_ = found()
    east, west = all_.coaters
    assert (east.name, east.cases, east.minutes) == ("east", 3, 50.0)
    assert east.days_between == 30.0
    assert (west.cases, west.days_between) == (1, None)
    assert all_.complaints == (("slow", 3), ("noisy", 1))
    assert all_.causes[0] == ("seal", 2)
    assert set(all_.causes) == {
        ("seal", 2), ("vent", 1), ("pump", 1),
    }  # fmt: skip
    assert dict(all_.minutes) == {"pump": 60.0, "seal": 40.0, "vent": 10.0}
    assert all_.months == (("2026-01", 2), ("2026-02", 1), ("2026-03", 1))
    assert all_.remedies == (Remedy("wipe", 2, 1),)
    assert all_.parts == (("an O-ring", 1),)
    assert all_.downtime == 4.0


def test_of_one_coater_or_since_a_day(found):
    assert found("west").complaints == (("noisy", 1),)
    assert found("west").remedies == ()
    assert found(since="2026-02-01").months == (("2026-02", 1), ("2026-03", 1))
    assert found("nowhere").complaints == ()


def test_days_between_two_on_one_day():
    east = Coater("x", 2, 0.0, "2026-01-01T08:00:00", "2026-01-01T17:00:00", None)
    assert east.days_between == 0.0
