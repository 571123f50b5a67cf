"""What the gauge makes of the true pressure: its gas, its lag, its ends, its dirt and its noise."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.physics.gauges import HIGHEST, gauge_factor
from troubleshoot.training.coater import GASES
from troubleshoot.training.run import GRID, Run

Floats = NDArray[np.float64]

TEN_MINUTES = 600.0
_HEAT_LOSS = np.array([1 / gauge_factor({"water": "water vapour"}.get(g, g)) for g in GASES])


@dataclass(frozen=True)
class Gauge:
    """A gauge on the chamber. It shows `scale` x heat loss + `zero` Pa, `lag` s late.

    `heat_loss` False: a membrane, which reads every gas alike. `noise`: share of the reading, kept
    up for `memory` s. `drift`: change of scale in ten minutes. `cold`: Pa that it shows too much
    when just switched on, gone in `WARMING` s. `digits` shown, or a fixed `step` in Pa. `bottom`
    and `top` Pa: ends of its scale, where it stops.
    """

    heat_loss: bool = True
    lag: float = 1.0
    noise: float = 0.02
    memory: float = 0.0
    zero: float = 0.0
    scale: float = 1.0
    drift: float = 0.0
    cold: float = 0.0
    digits: int = 3
    step: float = 0.0
    bottom: float = 0.0
    top: float = math.inf


WARMING = 300.0
"""s, of a gauge: judgement."""


def as_felt(gauge: Gauge, partial: Floats) -> Floats:
    """Pa of air that would cool the wire as much as these gases do.

    p = sum p_i / C_i (`physics.gauges`). Above 1 mbar each gas has its own curve, for which no
    factor is published: there the sum goes over to the true pressure within a decade (judgement).
    """
    total: Floats = partial.sum(axis=1)
    if not gauge.heat_loss:
        return total
    felt = partial @ _HEAT_LOSS
    past = np.clip(np.log10(np.maximum(total, 1e-9) / HIGHEST), 0.0, 1.0)
    mean: Floats = felt * (1 - past) + total * past
    return mean


def shown(gauge: Gauge, run: Run) -> tuple[Floats, Floats]:
    """(seconds, Pa) of what it would show without noise, rounding and ends."""
    from scipy.signal import lfilter

    fine = np.arange(0.0, run.seconds[-1] + GRID / 2, GRID)
    felt = np.interp(fine, run.seconds, as_felt(gauge, run.partial))
    share = -math.expm1(-GRID / gauge.lag) if gauge.lag else 1.0
    late, _ = lfilter([share], [1, share - 1], felt, zi=[(1 - share) * felt[0]])
    pascal = late * gauge.scale * (1 + gauge.drift * fine / TEN_MINUTES) + gauge.zero
    return fine, pascal + gauge.cold * np.exp(-fine / WARMING)


def readings(
    gauge: Gauge, run: Run, every: float, rng: np.random.Generator, first: float = 0.0
) -> tuple[Floats, Floats]:
    """(seconds, Pa) as displayed, a row every `every` s from `first` s of the run on.

    A display that ends shows its end; one that has nothing to show (zero or less) shows zero.
    """
    from scipy.signal import lfilter

    fine, true = shown(gauge, run)
    t = np.arange(first, fine[-1], every)
    keep = math.exp(-every / gauge.memory) if gauge.memory else 0.0
    white = rng.standard_normal(len(t)) * math.sqrt(1 - keep**2)
    p = np.interp(t, fine, true) * np.exp(gauge.noise * lfilter([1], [1, -keep], white))
    p = np.clip(p, max(gauge.bottom, 0.0), gauge.top)
    step = gauge.step or 10.0 ** (np.floor(np.log10(np.maximum(p, 1e-9))) - gauge.digits + 1)
    return t, np.round(p / step) * step
