"""The scores against printed examples."""

import math

import numpy as np
import pytest

from tests.benchmarks.scores import (
    Bin,
    brier,
    brier_many,
    calibration_error,
    log_score,
    reliability,
)

Y, P = [0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]


def test_brier_score_as_printed():
    """scikit-learn 1.9.1, documentation of `brier_score_loss`: 0.0375, not halved 0.075."""
    assert brier(Y, P) == pytest.approx(0.0375, abs=1e-12)
    rows = [[1 - p, p] for p in P]
    assert brier_many(Y, rows) == pytest.approx(0.075, abs=1e-12)


def test_log_score_as_printed():
    """scikit-learn 1.9.1, documentation of `log_loss`: 0.21616 (columns ham, spam)."""
    rows = [[0.1, 0.9], [0.9, 0.1], [0.8, 0.2], [0.35, 0.65]]
    assert log_score([1, 0, 0, 1], rows) == pytest.approx(0.21616, abs=5e-6)


def test_calibration_error_as_printed():
    """A public calculator's example of ten forecasts in five bins, three of them filled: 0.1640.

    https://induwara.lk/tools/ai-expected-calibration-error-calculator
    """
    table = [Bin(1, 0.55, 1.0), Bin(4, 0.6675, 0.5), Bin(5, 0.896, 1.0)]
    assert calibration_error(table) == pytest.approx(0.1640, abs=5e-5)
    assert max(abs(b.came_true - b.forecast) for b in table) == pytest.approx(0.45)


def test_the_bins_hold_every_forecast_once():
    p = np.linspace(0, 1, 101)
    table = reliability((p > 0.5).astype(int), p)
    assert sum(b.count for b in table) == 101
    assert [b.count for b in table] == [10] * 9 + [11]
    assert calibration_error(reliability([0, 1], [0.0, 1.0])) == 0


def test_a_forecast_of_zero_for_the_truth_costs_the_floor():
    assert log_score([0], [[0.0, 1.0]]) == pytest.approx(-math.log(1e-6))
