"""Sound coaters, drawn at random within what bench-top coaters are, or after a machine profile."""

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.physics.conductance import effective_speed, tube
from troubleshoot.physics.gases import gas_named
from troubleshoot.physics.pumping import USUAL_RATE
from troubleshoot.training.coater import Coater, Line, Pump, Tube
from troubleshoot.training.gauge import Gauge

Rng = np.random.Generator

RUBBER = 0.025
"""m2 of rubber a coater shows to its vacuum: two seals of half a metre, 25 mm wide: judgement."""
DISPLAYS = (2, 3, 3, 4)
"""Digits that gauges show."""


def spread(rng: Rng, low: float, high: float) -> float:
    """Evenly spread in the logarithm."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def sound_coater(rng: Rng, machine: Machine | None = None) -> Coater:
    """A coater without a fault: the profile's volume, pump and hose, else 2.5 to 10 L, 1 to 6 m3/h,
    12 to 25 mm by 0.3 to 1 m (judgement).

    Gas of walls and rubber by the usual rates of `physics.pumping`, to a factor of three, over an
    area that goes with the volume.
    """
    told = machine.numbers if machine is not None else {}
    volume = told.get("volume", rng.uniform(2.5, 10) * 1e-3)
    speed = told.get("pump_speed", spread(rng, 1, 6) / 3600)
    bore, length = _hose(rng, speed)
    bore, length = told.get("hose_diameter", bore), told.get("hose_length", length)
    # A cylinder as wide as high shows 5.5 V^(2/3); a stage and a head twice that in all.
    area = 11 * volume ** (2 / 3)
    ultimates = {"rotary_one_stage": (3.0, 8.0), "dry": (100.0, 300.0)}
    kind = machine.facts.get("pump_kind", "") if machine is not None else ""
    return Coater(
        volume=volume,
        pump=Pump(speed, spread(rng, *ultimates.get(kind, (0.3, 2.0)))),
        hose=Tube(bore, length),
        walls=USUAL_RATE["metal"] * area * spread(rng, 0.3, 3),
        seals=USUAL_RATE["elastomer"] * RUBBER * spread(rng, 0.3, 3),
        line=Line(most=spread(rng, 0.2, 1.0)),
    )


def _hose(rng: Rng, speed: float) -> tuple[float, float]:
    """(bore, length) in m of a hose that leaves a pump a quarter of its speed at 5 Pa or more."""
    for _ in range(1000):
        bore, length = rng.uniform(0.012, 0.025), rng.uniform(0.3, 1.0)
        carries = tube(gas_named("air"), bore, length, 4.0)
        if effective_speed(speed, carries) >= speed / 4:
            break
    return bore, length


def usual_gauge(rng: Rng, machine: Machine | None = None) -> Gauge:
    """A gauge as they are: a second late or two, a few per cent of noise and of scale."""
    kind = machine.facts.get("gauge_kind", "heat_loss") if machine is not None else "heat_loss"
    return Gauge(
        heat_loss=kind == "heat_loss",
        lag=rng.uniform(0.5, 3),
        noise=spread(rng, 0.003, 0.03),
        memory=rng.uniform(0, 4),
        zero=rng.uniform(-0.3, 0.3),
        scale=spread(rng, 0.9, 1.1),
        drift=0.01 * rng.standard_normal(),
        digits=int(rng.choice(DISPLAYS)),
    )
