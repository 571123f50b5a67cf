"""The robust line: exact on a line, deaf to wild readings, and right about its own uncertainty."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.readings.trend import FEWEST, robust_trend

finite = st.floats(-1e3, 1e3)


@given(slope=finite, middle=finite, count=st.integers(FEWEST, 40))
def test_a_line_comes_back(slope, middle, count):
    x = np.arange(count) * 0.7
    found = robust_trend(x, middle + slope * x)
    assert found.slope == pytest.approx(slope, abs=1e-6)
    assert found.at(0.0) == pytest.approx(middle, abs=1e-5)


def test_a_quarter_of_wild_readings_moves_it_little():
    rng = np.random.default_rng(3)
    x = np.arange(40.0)
    y = 0.5 * x + 0.1 * rng.standard_normal(40)
    y[::4] += 500.0
    assert robust_trend(x, y).slope == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize("tied", [0.0, 0.7])
def test_the_uncertainty_is_honest(tied):
    """About 95 % of the 95 % intervals hold the truth, also where neighbours hang together."""
    rng = np.random.default_rng(11)
    held = []
    for _ in range(300):
        noise = rng.standard_normal(40)
        for k in range(1, 40):
            noise[k] += tied * noise[k - 1]
        found = robust_trend(np.arange(40.0), 0.2 * np.arange(40.0) + noise)
        held.append(abs(found.slope - 0.2) < 1.96 * found.sigma)
    assert 0.91 <= np.mean(held) <= 0.98


def test_too_little_is_no_trend():
    assert robust_trend([0, 1, 2, 3], [1, 2, 3, 4]) is None
    assert robust_trend([1, 1, 1, 1, 1, 1], [1, 2, 3, 4, 5, 6]) is None


def test_order_does_not_matter():
    rng = np.random.default_rng(5)
    x, y = rng.random(20), rng.random(20)
    mixed = rng.permutation(20)
    one, other = robust_trend(x, y), robust_trend(x[mixed], y[mixed])
    assert (one.slope, one.sigma) == pytest.approx((other.slope, other.sigma))


def test_probability_of_a_rise():
    rng = np.random.default_rng(2)
    x = np.arange(30.0)
    rising = robust_trend(x, 0.3 * x + rng.standard_normal(30))
    flat = robust_trend(x, rng.standard_normal(30))
    assert rising.probability_above(0) > 0.999
    assert 0.02 < flat.probability_above(0) < 0.98
