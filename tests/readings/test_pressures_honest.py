"""The pressure reader on a simulated coater that knows none of its curves (`bench`).

Hose, pump, walls, seals, drops and pockets are integrated step by step; the gauge lags, its noise
hangs together, its scale and zero are off, it drifts and may end at 10 or 100 mbar. A number is
held against what the gauge itself would have shown, for its scale no log can know.
"""

from collections import Counter

import numpy as np
import pytest

from tests.readings import bench
from troubleshoot.readings.pressure.numbers import FIRST_SECONDS, TEN_MINUTES
from troubleshoot.readings.pressure.pressures import analyse

pytestmark = pytest.mark.slow

EACH = 40
FAULTS = ("leak", "vapour", "virtual_leak", "weak_pump")
NUMBERS = ("time_constant", "base", "end_pressure", "pressure_when_shut", "rise_at_start",
           "rise_in_one_minute")  # fmt: skip


@pytest.fixture(scope="module")
def read(rules):
    """200 sessions, 40 of each story, each with what the reader made of its log."""
    rng = np.random.default_rng(404)
    drawn = [bench.session(story, rng) for story in bench.STORIES for _ in range(EACH)]
    return [(s, analyse(s.log, rules.findings)) for s in drawn]


def truths(session, analysis):
    """What the gauge would have shown without noise, in Pa and s.

    The ten minutes of the base count from the first reading that is not at the end of the scale.
    """
    run, gauge, coater = session.run, session.gauge, session.coater
    shut = session.shut_at + session.offset
    factor = gauge.scale * (1 + gauge.drift * session.shut_at / TEN_MINUTES)

    def at(seconds):
        return run.at(shut + seconds)

    pumped = analysis.pump.start + TEN_MINUTES - session.pumped_from
    longer = bench.simulate(coater, [bench.Stage("pump", pumped + 10)])
    base = longer.at(pumped)
    return {
        "time_constant": coater.time_constant,
        "base": base * factor + gauge.zero,
        "end_pressure": at(0) * factor + gauge.zero,
        "pressure_when_shut": at(0) * factor + gauge.zero,
        "rise_at_start": (at(FIRST_SECONDS) - at(0)) / FIRST_SECONDS * factor,
        "rise_in_one_minute": (at(60.0) - at(0)) / 60.0 * factor,
    }


@pytest.mark.parametrize("name", NUMBERS)
def test_numbers_lie_within_their_stated_uncertainty(read, name):
    """At least 95 %, less three standard errors of 200 draws; and the intervals are not idle."""
    off = []
    for session, analysis in read:
        number = analysis.reading.numbers.get(name)
        if number is not None and analysis.pump is not None:
            off.append((number.value - truths(session, analysis)[name]) / number.sigma)
    assert len(off) > 175
    assert np.mean(np.abs(off) <= 1.96) >= 0.904
    # A fifth of the interval must miss often, or it says nothing. (A slow gauge would show its own
    # time for V/S, and the reader cannot know that these are quick.)
    assert np.mean(np.abs(off) <= 0.2 * 1.96) < (0.95 if name == "time_constant" else 0.8)


def test_a_story_that_is_told_is_right(read):
    """95 %, less two standard errors of the number told."""
    told = Counter(
        analysis.verdict.story == session.story
        for session, analysis in read
        if analysis.verdict.story is not None and session.story in FAULTS
    )
    assert told.total() >= EACH
    assert told[True] / told.total() >= 0.95 - 2 * np.sqrt(0.05 * 0.95 / told.total())


def test_the_true_story_is_among_those_that_cannot_be_told_apart(read):
    named = [
        session.story in analysis.verdict.rivals
        for session, analysis in read
        if analysis.verdict.story is None and session.story in FAULTS
    ]
    assert len(named) >= EACH
    assert np.mean(named) >= 0.9


def test_a_weak_pump_and_gas_are_told_apart_by_the_rise(read):
    """What shape the gas has may stay open; that it is gas, or that it is the pump, seldom does."""
    gas = [
        "weak_pump" not in analysis.verdict.rivals
        for session, analysis in read
        if session.story in ("leak", "vapour", "virtual_leak")
    ]
    pump = [a.verdict.story == "weak_pump" for s, a in read if s.story == "weak_pump"]
    # What the hose takes near the base is not told here, and one curve hardly tells it.
    assert np.mean(gas) >= 0.6
    assert np.mean(pump) >= 0.6
