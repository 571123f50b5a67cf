"""Scores of probabilities against what turned out to be true."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

FLOOR = 1e-6


def brier(y: Sequence[int], p: Sequence[float]) -> float:
    """Mean of (p - y)^2, y 0 or 1: from 0 (right and certain) to 1 (wrong and certain)."""
    return float(np.mean((np.asarray(p) - np.asarray(y)) ** 2))


def brier_many(truth: Sequence[int], rows: Sequence[Sequence[float]]) -> float:
    """Brier's own score over all classes, mean of sum (p - y)^2: from 0 to 2 (Brier 1950)."""
    p = np.asarray(rows)
    true = p[np.arange(len(truth)), list(truth)]
    return float(np.mean((p**2).sum(axis=1) - 2 * true + 1))


def log_score(truth: Sequence[int], rows: Sequence[Sequence[float]]) -> float:
    """Mean of -ln(probability given to what was true), in nats, with a floor of `FLOOR`."""
    p = np.asarray(rows)[np.arange(len(truth)), list(truth)]
    return float(np.mean(-np.log(np.maximum(p, FLOOR))))


@dataclass(frozen=True)
class Bin:
    """Forecasts of about the same probability: how many, their mean, how often they were right."""

    count: int
    forecast: float
    came_true: float


def reliability(y: Sequence[int], p: Sequence[float], bins: int = 10) -> list[Bin]:
    """Forecasts in `bins` equal intervals of [0, 1], the empty ones left out."""
    p, y = np.asarray(p), np.asarray(y)
    place = np.minimum((p * bins).astype(int), bins - 1)
    return [
        Bin(int(here.sum()), float(p[here].mean()), float(y[here].mean()))
        for here in (place == n for n in range(bins))
        if here.any()
    ]


def calibration_error(table: Sequence[Bin]) -> float:
    """Expected calibration error: mean over the forecasts of |came true - forecast| of their bin.

    It depends on the bins, so print the table beside it.
    """
    total = sum(b.count for b in table)
    return sum(b.count * abs(b.came_true - b.forecast) for b in table) / total
