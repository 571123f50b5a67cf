"""What was going on, and when."""

import numpy as np
import pytest

from tests.readings.simulated import AIR, log_of
from troubleshoot.readings import curve_models as cm
from troubleshoot.readings.segments import find_segments, main_pumping, main_rise

NOISES = (0.0, 0.005, 0.02, 0.05)


def kinds(log):
    return [s.kind for s in find_segments(log)]


def fall(base=5.0, tau=6.0, start=AIR):
    return lambda t: cm.settles(t, base, start, tau)


def vent(start):
    return lambda t: np.minimum(start + 3000 * t, AIR)


@pytest.mark.parametrize("noise", NOISES)
def test_a_whole_session(noise):
    log = log_of(
        [
            (lambda t: AIR + 0 * t, 30),
            (fall(), 600),
            (lambda t: cm.leak(t, 5, 0.5), 300),
            (vent(155), 60),
        ],
        noise=noise,
    )
    segments = find_segments(log)
    assert [s.kind for s in segments] == ["pumping", "isolated", "venting"]
    # The waiting at the atmosphere belongs to none; every cut is within a few seconds.
    cuts = [log.seconds[s.first] for s in segments]
    assert cuts == pytest.approx([30, 630, 930], abs=8)


@pytest.mark.parametrize("noise", NOISES)
def test_argon_let_in_is_no_rise(noise):
    log = log_of(
        [
            (lambda t: cm.tail_walls(t, 3, AIR, 6, 2), 600),
            (lambda t: 10 - 5 * np.exp(-t / 6), 200),
            (fall(start=5), 100),
            (vent(5), 60),
            (fall(), 300),
        ],
        noise=noise,
    )
    assert kinds(log) == ["pumping", "gas", "pumping", "venting", "pumping"]
    assert main_rise(find_segments(log)) is None


@pytest.mark.parametrize("noise", NOISES)
def test_bursts_belong_to_the_pumping(noise):
    def kicks(t):
        up = 8 * ((t > 200) & (t < 206)) + 6 * ((t > 300) & (t < 306))
        return cm.settles(t, 5, AIR, 6) + up

    (segment,) = find_segments(log_of([(kicks, 600)], noise=noise))
    assert segment.kind == "pumping"
    assert segment.kicks == 2


@pytest.mark.parametrize("noise", NOISES)
def test_a_rise_alone(noise):
    assert kinds(log_of([(lambda t: cm.leak(t, 5, 0.5), 300)], noise=noise)) == ["isolated"]


def test_the_widest_of_several_falls_and_the_last_rise():
    pieces = [
        (fall(start=1e3), 200),
        (lambda t: cm.leak(t, 5, 0.2), 200),
        (vent(45), 60),
        (fall(base=8), 500),
        (lambda t: cm.leak(t, 8, 0.4), 200),
    ]
    log = log_of(pieces)
    segments = find_segments(log)
    assert log.seconds[main_pumping(segments, log).first] == pytest.approx(460, abs=5)
    assert log.seconds[main_rise(segments).first] == pytest.approx(960, abs=8)


def test_a_saturated_gauge_is_no_part_of_the_fall():
    log = log_of([(lambda t: np.minimum(cm.settles(t, 5, AIR, 6), 2000), 300)], noise=0)
    (segment,) = find_segments(log)
    assert log.seconds[segment.first] == pytest.approx(6 * np.log(AIR / 2000), abs=1.5)


def test_a_log_started_late():
    (segment,) = find_segments(log_of([(fall(start=300), 400)]))
    assert segment.kind == "pumping"
    assert segment.first <= 2


def test_nothing_happens():
    assert kinds(log_of([(lambda t: 5 + 0 * t, 300)])) == ["steady"]


@pytest.mark.parametrize("noise", [0.0, 0.01, 0.03])
def test_a_coarse_display_makes_no_turns(noise):
    log = log_of([(fall(base=3.3), 900)], noise=noise, digits=1)
    assert kinds(log) == ["pumping"]
