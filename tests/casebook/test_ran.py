"""What earlier runs of a coater left, as points under a new log."""

from troubleshoot.casebook.ran import MOST_POINTS, pumped_before
from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine
from troubleshoot.upkeep.run import Run


def test_runs_leave_the_base_at_ten_minutes_and_the_pressure_at_its_time(named):
    store = Store(named)
    store.save_run("left", Run("2026-01-05T09:00:00", "run", {"time": 240.0, "pressure": 10.0}))
    store.save_run("left", Run("2026-01-06T09:00:00", "check_up", {"base": 4.0}))
    store.save_run("left", Run("2026-01-07T09:00:00", "run", {"pressure": 9.0}))
    store.save_run("right", Run("2026-01-07T10:00:00", "check_up", {"base": 7.0}))
    assert pumped_before(store, Machine(name="left")) == [(240.0, 10.0), (600.0, 4.0)]
    for n in range(MOST_POINTS + 1):
        at = f"2026-02-01T09:{n % 60:02}:00"
        store.save_run("right", Run(at, "check_up", {"base": 8.0 + n}))
    last = pumped_before(store, Machine(name="right"))
    assert len(last) == MOST_POINTS
    assert last[-1] == (600.0, 8.0 + MOST_POINTS)
    store.close()
