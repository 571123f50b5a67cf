"""The machine's normal, its trends and its care, from made-up run logs with known truth."""

import math
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Care
from troubleshoot.upkeep.health import (
    care_due,
    normal,
    profile_numbers,
    series,
    worsening,
)
from troubleshoot.upkeep.run import Run, doubts

START = datetime(2026, 3, 2, 9, 0)


def at(days):
    return (START + timedelta(days=days)).isoformat(timespec="seconds")


def weekly(values, name="base", kind="check_up", every=7):
    return [Run(at(every * n), kind, {name: v}) for n, v in enumerate(values)]


# The normal


def test_the_normal_is_a_median_and_a_spoilt_run_does_not_move_it():
    runs = weekly([3.0, 3.1, 2.9, 3.0, 90.0])
    got = normal(runs)["base_empty"]
    assert (got.value, got.count) == (3.0, 5)
    assert got.low <= got.value <= got.high


def test_empty_and_loaded_are_two_things():
    runs = weekly([3.0] * 4) + weekly([9.0] * 4, kind="run")
    got = normal(runs)
    assert (got["base_empty"].value, got["base"].value) == (3.0, 9.0)


def test_a_bad_slip_and_too_few_entries_make_no_normal():
    assert normal([Run(at(n), "run", {"current": 0.012}, slip="bad") for n in range(5)]) == {}
    assert normal(weekly([3.0, 3.0])) == {}


def test_old_entries_are_forgotten():
    assert normal(weekly([9.0] * 30 + [3.0] * 20))["base_empty"].value == 3.0


def test_currents_at_another_pressure_are_left_out():
    runs = [Run(at(n), "run", {"pressure": 10.0, "current": 0.012}) for n in range(5)]
    runs.append(Run(at(6), "run", {"pressure": 20.0, "current": 0.040}))
    assert [v for _, v in series(runs)["current"]] == [0.012] * 5


def test_what_a_profile_takes_from_it():
    runs = weekly([4.0] * 3) + weekly([300.0] * 3, "time", "run")
    numbers = profile_numbers(Machine(told_unit="mbar"), normal(runs))
    assert numbers == {"usual_base": "0.04 mbar", "usual_time": "5 min"}


# Trends


def test_a_base_that_doubles_in_five_weeks_is_told_with_its_uncertainty():
    rng = np.random.default_rng(5)
    held = []
    for _ in range(60):
        noise = np.exp(0.1 * rng.standard_normal(6))
        (found,) = worsening(weekly(3 * 2 ** (np.arange(6) / 5) * noise)) or [None]
        if found is not None:
            held.append(found.low <= 2.0 <= found.high)
    assert len(held) >= 50
    assert np.mean(held) >= 0.85


def test_a_trend_in_words():
    (found,) = worsening(weekly([3.0, 3.4, 4.0, 4.5, 5.2, 6.0]))
    assert found.factor == pytest.approx(2.0, rel=0.05)
    said = found.sentence("Pa")
    assert said.startswith("Base pressure, empty: from 3 to 6 Pa in 5 weeks (times 2, between 1.")
    assert said.endswith(".")


def test_scatter_is_seldom_called_a_trend():
    rng = np.random.default_rng(9)
    false = sum(
        bool(worsening(weekly(4 * np.exp(0.2 * rng.standard_normal(8))))) for _ in range(300)
    )
    assert false <= 15


def test_getting_better_is_no_warning():
    assert worsening(weekly([6.0, 5.2, 4.5, 4.0, 3.4, 3.0])) == []


def test_one_bad_week_is_no_trend():
    assert worsening(weekly([3.0, 3.0, 3.1, 3.0, 2.9, 30.0])) == []


@pytest.mark.parametrize("way", [1, -1])
def test_the_current_may_go_either_way(way):
    values = [0.012 * 1.06 ** (way * n) for n in range(8)]
    (found,) = worsening(weekly(values, "current", "run"))
    assert (found.factor > 1) == (way > 0)


def test_what_is_older_than_eight_weeks_does_not_count():
    rising, flat = [3.0 * 1.1**n for n in range(8)], [6.0] * 10
    assert worsening(weekly(rising))
    assert worsening(weekly(rising + flat)) == []


@pytest.mark.parametrize("odd", ["0001-01-01T00:00:00", "9999-12-31T23:59:59+14:00", "1970-01-01"])
def test_a_run_of_an_impossible_day_is_no_fault(odd):
    """As another casebook may hold it."""
    runs = [Run(at(0), "run", {"base": 5.0}), Run(odd, "care", did=("oil",))]
    assert [len(v) for v in series(runs).values()] == [1]
    care_due(runs, [OIL], Machine(), START.date())
    assert worsening(runs) == []


def test_many_runs_in_one_day_are_no_trend():
    assert worsening(weekly([3.0 * 1.2**n for n in range(8)], every=0.1)) == []


@given(st.lists(st.floats(1e-3, 1e5), max_size=12), st.floats(0.2, 30))
def test_any_values_are_taken(values, every):
    runs = weekly(values, every=every)
    for found in worsening(runs):
        assert found.low <= found.factor * 1.000001
        assert found.factor <= found.high * 1.000001
        assert math.isfinite(found.factor)
        assert found.sentence("Pa")


# Care

OIL = Care(id="oil", source="judgement", name="Oil", say="Change it.", runs=10.0, days=100.0)
TRAP = Care(id="trap", source="judgement", name="Trap", say="Renew it.", days=5.0,
            machine={"trap": "yes"})  # fmt: skip


def due(runs, day, *care, machine=None):
    today = (START + timedelta(days=day)).date()
    return care_due(runs, care, machine or Machine(), today)


def test_care_by_runs_and_by_days():
    done = [Run(at(0), "care", did=("oil",))]
    runs = [Run(at(n), "run") for n in range(1, 10)]
    assert due(done + runs, 20, OIL) == []
    (by_runs,) = due([*done, *runs, Run(at(10), "run")], 20, OIL)
    assert (by_runs.runs, by_runs.days) == (10, 20.0)
    assert "10 runs and 20 days ago" in by_runs.sentence
    (by_days,) = due(done, 100, OIL)
    assert (by_days.runs, by_days.days) == (0, 100.0)
    assert due(done, 99, OIL) == []


def test_doing_it_again_starts_anew():
    runs = [Run(at(n), "run") for n in range(12)]
    assert due(runs, 20, OIL)
    assert due([*runs, Run(at(13), "care", did=("oil",))], 20, OIL) == []


def test_an_empty_log_and_a_young_one_ask_for_nothing():
    assert due([], 500, OIL) == []
    assert due([Run(at(0), "run")], 3, OIL) == []


def test_what_was_never_noted_says_so_and_comes_last():
    runs = [Run(at(0), "care", did=("oil",)), *(Run(at(n), "run") for n in range(1, 40))]
    first, second = due(runs, 60, OIL, TRAP)
    assert (first.care.id, second.care.id) == ("oil", "trap")
    assert "no record" in second.sentence


def test_what_the_machine_has_not_needs_no_care():
    runs = [Run(at(0), "run")]
    assert due(runs, 60, TRAP, machine=Machine(facts={"trap": "no"})) == []


def test_the_shipped_intervals_are_used(rules):
    asked = {
        "oil", "seals", "glass", "target", "trap", "mist_filter", "regulator", "interlock",
        "oxygen_monitor",
    }  # fmt: skip
    assert asked <= set(rules.care)
    runs = [Run(at(0), "run")]
    told = care_due(runs, rules.care.values(), Machine(), date(2036, 1, 1))
    assert {d.care.id for d in told} == set(rules.care)


# Entries


def test_entries_come_back_in_order_and_machines_do_not_mix():
    store = Store("sqlite://")
    one = Run(at(0), "run", {"base": 3.25, "current": 0.0121}, "gold", "good", ("oil", "trap"))
    store.save_run("ours", one)
    store.save_run("theirs", Run(at(1), "check_up"))
    store.save_run("ours", Run(at(2), "care", did=("seals",)))
    assert store.runs("ours") == [one, Run(at(2), "care", did=("seals",))]
    assert store.runs("nobody's") == []


def test_what_cannot_be_is_said():
    (said,) = doubts(Run(at(0), "run", {"base": 20.0, "pressure": 10.0}))
    assert "0.2 mbar is not below" in said
    assert "not above zero" in doubts(Run(at(0), "run", {"current": 0.0}))[0]
    assert doubts(Run(at(0), "run", {"base": 3.0, "pressure": 10.0, "rise": 0.0})) == []


@pytest.mark.parametrize(
    ("name", "si"), [("base", 5e5), ("current", 12e3), ("time", 400 * 86400.0), ("rise", -1e6)]
)
def test_a_slip_of_the_unit_never_becomes_what_is_usual(name, si):
    """5 bar for 5 mbar, 12 kA for 12 mA, 400 days: no bench-top coater shows so much."""
    (said,) = doubts(Run(at(0), "run", {name: si}))
    assert "cannot be: mend the number or its unit" in said
