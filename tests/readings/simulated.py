"""Gauge logs made from the formulas, with known parameters, noise and faults."""

from dataclasses import dataclass

import numpy as np

from troubleshoot.readings.pressure import curve_models as cm
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.points import display_step

AIR = 101325.0


def log_of(pieces, *, dt=1.0, noise=0.02, rng=None, unit="mbar", digits=None):
    """Pieces of (curve of seconds, duration) one after the other, as a log."""
    rng = rng or np.random.default_rng(1)
    times, pressures, begin = [], [], 0.0
    for curve, duration in pieces:
        t = np.arange(0, duration, dt)
        times.append(begin + t)
        pressures.append(np.broadcast_to(curve(t), t.shape))
        begin += len(t) * dt
    t, p = np.concatenate(times), np.concatenate(pressures)
    p = p * np.exp(noise * rng.standard_normal(len(p)))
    if digits:
        p = np.array([float(f"{x:.{digits}g}") for x in p])
    return Log("made", "", t, p, np.ones(len(t)), display_step(p), len(t), unit)


@dataclass(frozen=True)
class Session:
    """A pump-down, the valve shut, a rise; and what is true about it."""

    kind: str
    shape: str
    log: Log
    noise: float
    tau: float
    base: float
    rate: float  # Pa/s at the moment the valve shuts
    rise: object  # pressure in Pa, seconds after that

    @property
    def gas_share(self):
        """Share of the base that the gas coming in makes."""
        return self.rate * self.tau / self.base


def session(kind, rng):
    """One of "leak", "vapour", "virtual_leak", "weak_pump", with parameters drawn at random."""
    tau, floor = rng.uniform(4, 15), rng.uniform(1, 3)
    pumped, watched = rng.uniform(300, 900), rng.uniform(120, 600)
    noise, dt = rng.uniform(0.005, 0.06), rng.choice([1.0, 2.0, 5.0])
    if kind == "weak_pump":
        floor = rng.uniform(12, 100)
        rate = rng.uniform(0.005, 0.15) * floor / tau
        shape = str(rng.choice(["leak", "walls"]))
    else:
        rate = (np.exp(rng.uniform(np.log(10), np.log(100))) - floor) / tau
        vapours = ["walls", "seals", "liquid"]
        shape = {"leak": "leak", "virtual_leak": "pocket"}.get(kind) or str(rng.choice(vapours))
    base = floor + rate * tau
    if shape in ("walls", "seals"):
        power = 1.0 if shape == "walls" else 0.5

        def fall(t):
            # Q falls as a power of the time pumped; it is `rate` when the valve shuts.
            tail = rate * tau * ((pumped + tau) / (t + tau)) ** power
            return cm.settles(t, floor, AIR, tau) + tail

        def rise(t):
            return getattr(cm, shape)(t, base, rate, pumped)
    else:
        saturation = rng.uniform(1200, 2800)
        # A pocket that is still felt after minutes of pumping is not gone within one.
        gain = min(rate * max(rng.uniform(0.1, 1.5) * watched, 60.0), 450.0)

        def fall(t):
            return cm.settles(t, base, AIR, tau)

        def rise(t):
            if shape == "leak":
                return cm.leak(t, base, rate)
            if shape == "pocket":
                return cm.pocket(t, base, gain, gain / rate)
            return cm.liquid(t, base, saturation, (saturation - base) / rate)

    log = log_of([(fall, pumped), (rise, watched)], dt=dt, noise=noise, rng=rng)
    return Session(kind, shape, log, noise, tau, base, rate, rise)
