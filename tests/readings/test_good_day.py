"""A pump-down beside the one that was kept of a good day."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.readings.simulated import AIR, log_of
from troubleshoot.coater.good_day import read_curve, write_curve
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.readings.pressure import curve_models as cm
from troubleshoot.readings.pressure.good_day import KEPT_POINTS, good_fall, kept_curve
from troubleshoot.readings.pressure.pressure_plot import draw_pressures
from troubleshoot.readings.pressure.pressures import analyse


def pump_down(base, tau, length=700):
    return log_of([(lambda t: cm.settles(t, base, AIR, tau), length)], noise=0.01)


@pytest.fixture
def ours(rules):
    """A coater that remembers a fall with V/S of 9 s to 5 Pa."""
    good = analyse(pump_down(5, 9), rules.findings).pump
    return Machine("ours", good_day=write_curve(kept_curve(good), "mbar"))


@pytest.mark.parametrize(
    ("base", "tau", "says"),
    [
        (5, 9, "as fast as on a good day)"),
        (5.5, 10, "as fast as on a good day)"),
        (5, 18, "slower than on a good day"),
        (40, 9, "as fast as on a good day, but it ends"),
    ],
)
def test_the_first_sentence_says_what_differs_from_a_good_day(rules, ours, base, tau, says):
    sentence = analyse(pump_down(base, tau), rules.findings, ours).reading.sentence
    assert says in sentence.split("): ")[0] + ")"


def test_without_a_good_day_nothing_is_said_of_one(rules):
    assert "good day" not in analyse(pump_down(5, 18), rules.findings).reading.sentence


def test_the_kept_curve_begins_where_todays_log_begins(rules, ours):
    """A log that begins at 100 mbar is drawn beside the rest of the good day, not its beginning."""
    late = log_of([(lambda t: cm.settles(t, 5, 1e4, 9), 300)], noise=0.01)
    times, pascal = good_fall(analyse(late, rules.findings, ours).pump, ours)
    assert times[0] == 0
    assert pascal[0] == pytest.approx(1e4, rel=0.15)
    # Between its few points the curve is a straight line in ln p.
    assert pascal[times > 30][0] == pytest.approx(cm.settles(30.0, 5, 1e4, 9), rel=0.6)


def test_good_day_and_earlier_runs_are_drawn(rules, ours):
    analysis = analyse(pump_down(5, 18), rules.findings, ours)
    drawing = draw_pressures(analysis, ours, [(600.0, 6.0), (60.0, 1e7)])
    assert "this coater on a good day" in drawing
    assert "runs before" in drawing
    # One triangle in the key, one in the panel; the other run lies above all pressures.
    assert drawing.count('class="mark"') == 2
    assert "runs before" not in draw_pressures(analysis, ours)
    end = float(analysis.log.seconds[-1]) - analysis.pump.start
    assert "runs before" in draw_pressures(analysis, ours, [(1.04 * end, 6.0)])
    assert "runs before" not in draw_pressures(analysis, ours, [(1.2 * end, 6.0)])


curves = st.lists(st.tuples(st.floats(0.5, 500), st.floats(1e-2, 1e5)), min_size=3, max_size=14)


@given(steps=curves, unit=st.sampled_from(["mbar", "Torr", "Pa"]))
def test_a_curve_is_read_as_it_was_written(steps, unit):
    times = np.cumsum([round(step) + 1 for step, _ in steps]).tolist()
    curve = tuple(zip(times, (p for _, p in steps), strict=True))
    again = read_curve(write_curve(curve, unit))
    assert np.ravel(again) == pytest.approx(np.ravel(curve), rel=6e-3)


@pytest.mark.parametrize(
    "text", ["", "0 s 5 mbar", "0 s 5 mbar; 1 s 4 mbar; 1 s 3 mbar", "0 s 5 mbar; 1 s; 2 s 3 mbar"]
)
def test_what_is_no_curve_is_refused(text):
    with pytest.raises(UserError):
        read_curve(text)


def test_a_profile_keeps_it(ours):
    assert dataclasses.replace(ours).as_dict()["good_day"] == ours.good_day
    assert len(ours.good_day_curve) == KEPT_POINTS
