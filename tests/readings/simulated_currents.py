"""Logs of a discharge made with known drift, noise, arcs, steps, swing, settling and gaps."""

from dataclasses import dataclass

import numpy as np

from troubleshoot.sources.log_file import Table


def log_uniform(rng, low, high):
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


@dataclass(frozen=True)
class Truth:
    """What is true of a made log: shares of the level, A, arcs a second, s."""

    change: float
    level: float
    arc_rate: float
    arc_depth: float
    period: float
    depth: float
    voltage_change: float
    kinds: frozenset[str]


DEPTHS = 0.25, 0.8
KINDS = ("red", "display", "arcs", "step", "swing", "settling", "gaps", "out")


def noise_of(rng, t, tau):
    """Noise of unit size; `tau` s: its correlation time (0: white), as of a first-order process."""
    white = rng.standard_normal(len(t))
    if tau == 0:
        return white
    keep = np.exp(-np.diff(t) / tau)
    new = np.sqrt(1 - keep**2)
    out = white.copy()
    for k in range(1, len(t)):
        out[k] = keep[k - 1] * out[k - 1] + new[k - 1] * white[k]
    return out


def run_of(rng, kinds=None, span=None, rate=None):
    """A log of a discharge, and the truth about it. `kinds`: of `KINDS`, else drawn at random."""
    if kinds is None:
        kinds = {k for k in KINDS if rng.random() < 0.3}
        if "swing" in kinds:
            kinds.discard("step")
    span = span or log_uniform(rng, 20, 600)
    rate = rate or log_uniform(rng, 1.2, 20)
    t = np.arange(0, span, 1 / rate)
    level = log_uniform(rng, 0.003, 0.2)
    change = rng.uniform(-1, 1) * min(0.4, 0.6 * 120 / span)
    curve = 1 + change * (t - span / 2) / 120
    if "settling" in kinds:
        tau = log_uniform(rng, 1, 8)
        curve = curve + rng.choice([-1, 1]) * rng.uniform(0.05, 0.4) * np.exp(-t / tau)
    if "step" in kinds:
        at = span * rng.uniform(0.2, 0.8)
        curve = curve + rng.choice([-1, 1]) * rng.uniform(0.12, 0.4) * (t >= at)
    period = depth = 0.0
    wave = np.zeros(len(t))
    if "swing" in kinds:
        period = log_uniform(rng, max(2, 5 / rate), span / 6)
        depth = rng.uniform(0.1, 0.4)
        wave = depth / 2 * np.sin(2 * np.pi * t / period + rng.uniform(0, 6))
    tau = log_uniform(rng, 0.3, min(10, span / 15)) if "red" in kinds else 0.0
    sd = log_uniform(rng, 0.001, 0.03)
    seen = curve + wave + sd * noise_of(rng, t, tau)
    arc_rate = 0.0
    if "arcs" in kinds:
        arc_rate = log_uniform(rng, 0.5, 15) / 60
        for at in np.cumsum(rng.exponential(1 / arc_rate, 400)):
            if at >= span:
                break
            first = int(at * rate)
            last = first + max(1, int(rng.uniform(0, 0.3) * rate))
            seen[first:last] *= 1 - rng.uniform(*DEPTHS)
    lit = np.ones(len(t), dtype=bool)
    if "out" in kinds:
        at = span * rng.uniform(0.2, 0.8)
        lit = (t < at) | (t > at + max(1.5, 0.05 * span))
        seen = np.where(lit, seen, 0.0)
    kept = np.ones(len(t), dtype=bool)
    if "gaps" in kinds:
        at = span * rng.uniform(0.2, 0.7)
        kept = ((t < at) | (t > at + 0.15 * span)) & (rng.random(len(t)) > 0.05)
    amps = level * np.maximum(seen, 0)
    if "display" in kinds:
        steps = np.array([1e-5, 1e-4, 1e-3])
        step = rng.choice(steps[(steps < 0.1 * level)])
        amps = step * np.round(amps / step)
    volt_change = rng.uniform(-0.2, 0.2) * min(1, 120 / span)
    volts = 1200 * (1 + volt_change * (t - span / 2) / 120 + 0.005 * noise_of(rng, t, tau))
    made = Table(
        "made", "", t[kept], {"current": amps[kept], "voltage": volts[kept]}, {"current": "mA"}
    )
    middle = float(np.mean(curve[lit & kept]))
    truth = Truth(
        change / middle, level * middle, arc_rate, float(np.mean(DEPTHS)), period, depth / middle,
        volt_change,
        frozenset(kinds),
    )  # fmt: skip
    return made, truth


def beside_pressure(rng, relation=None):
    """A log of current and pressure, which relation of `RELATIONS` is true, and the lag in s.

    Both follow one cause that wanders, swings or steps; or, when unrelated, each its own. Both
    drift as well and have their own noise. The lag is that of the current after the pressure as
    the gauge shows it.
    """
    relation = relation or str(rng.choice(["follows", "together", "leads", "unrelated"]))
    span, rate = log_uniform(rng, 60, 600), log_uniform(rng, 1, 8)
    t = np.arange(0, span, 1 / rate)
    late = rng.uniform(3, 12)
    lag = {"follows": late, "leads": -late, "together": rng.uniform(-1, 1), "unrelated": 0.0}
    fine = np.arange(-20, span + 20, 0.1)

    def cause():
        if rng.random() < 0.2:
            period = log_uniform(rng, 30, 60)
            return np.sqrt(2) * np.sin(2 * np.pi * fine / period + rng.uniform(0, 6))
        if rng.random() < 0.3:  # someone turns the needle valve now and then
            turns = np.searchsorted(np.sort(rng.uniform(0, span, int(rng.integers(2, 9)))), fine)
            return rng.standard_normal(turns.max() + 1)[turns]
        return noise_of(rng, fine, log_uniform(rng, 2, 20))

    first = cause()
    other = cause() if relation == "unrelated" else first
    driven = np.interp(t - lag[relation], fine, other)
    # A heat-loss gauge answers late.
    slow = np.exp(-np.arange(0, 5, 0.1) / rng.uniform(0.1, 1))
    gauge = float(np.arange(0, 5, 0.1) @ slow / slow.sum())
    first = np.convolve(first, slow / slow.sum())[: len(fine)]
    pascal = 10 * np.exp(
        log_uniform(rng, 0.01, 0.1) * np.interp(t, fine, first)
        + rng.uniform(-0.1, 0.1) * t / span
        + log_uniform(rng, 0.001, 0.01) * rng.standard_normal(len(t))
    )
    amps = 0.012 * (
        1 + log_uniform(rng, 0.01, 0.1) * driven
        + rng.uniform(-0.1, 0.1) * t / span
        + log_uniform(rng, 0.001, 0.01) * noise_of(rng, t, rng.choice([0.0, 1.0, 3.0]))
    )  # fmt: skip
    made = Table("made", "", t, {"current": np.maximum(amps, 0.001), "pressure": pascal},
                 {"current": "mA", "pressure": "Pa"})  # fmt: skip
    return made, relation, lag[relation] - gauge
