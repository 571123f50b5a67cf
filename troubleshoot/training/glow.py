"""The discharge of a simulated coater: whether it strikes, what current flows, what it looks like.

At one supply voltage the current goes with the square of the pressure (similarity of the glow at
one gap, Raizer, Gas Discharge Physics, 1991, `physics.discharge`) and is cut by the supply. It
strikes where Paschen's law lets it, and goes out where the dark space fills the gap.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.physics.discharge import paschen_voltage
from troubleshoot.training.coater import AIR, ARGON

Floats = NDArray[np.float64]

TOWNSEND = {"argon": (11.5, 176.0), "air": (15.0, 365.0)}
"""1/(Torr cm) and V/(Torr cm): Lieberman and Lichtenberg, table 14.1, and Raizer (1991)."""
TORR_CM = 1.33322
CLEAN, DIRTY = 0.06, 0.015
"""Electrons freed per ion, of clean and of dirty metal (`physics.discharge`)."""
DARK = 0.1
"""Pa m. Dark space times pressure at some hundred volts: 1 cm at 10 Pa: from memory."""
IN_AIR = 0.6
"""Current in air over that in argon at like pressure and voltage: judgement."""
PINK = 0.1
"""Share of air from which the glow is seen to be pink: judgement."""


@dataclass(frozen=True)
class Head:
    """Target, magnets, supply and its wiring; `sound` is the current in A at `pressure` Pa.

    `voltage` V of the supply, `most` A that it gives. `demand`: share of the control; `permitted`:
    interlocks and permit closed. `contact`: the lead joins the target. `shorted`: a flake joins
    target and shield. `leaks` A through a metal film on the insulator. `magnet`: its strength, 1
    when new. `dirt`: share by which a dirty target changes the current, gone in `cleans` s (never:
    infinite). `arcs` a minute. `trips` s after which a hot supply cuts out.
    """

    sound: float = 0.012
    pressure: float = 8.0
    gap: float = 0.05
    radius: float = 0.0285
    voltage: float = 1000.0
    most: float = 0.04
    demand: float = 1.0
    permitted: bool = True
    contact: bool = True
    shorted: bool = False
    leaks: float = 0.0
    magnet: float = 1.0
    dirt: float = 0.0
    cleans: float = 60.0
    arcs: float = 0.0
    trips: float = math.inf
    metal: str = "gold"
    centred: bool = True


def strikes(head: Head, partial: Sequence[float]) -> bool:
    """Paschen: V = B pd/ln(A pd/ln(1 + 1/gamma)) for the gas that there is more of.

    A magnet makes the paths of electrons longer; a weak one loses that. Left of the minimum a real
    discharge finds longer paths (`physics.discharge`), here up to the depth of the chamber, twice
    the gap.
    """
    volts = head.voltage * head.demand
    if not (head.permitted and head.contact) or head.shorted or volts <= 0:
        return False
    total = sum(partial)
    a, b = TOWNSEND["argon" if partial[ARGON] > total / 2 else "air"]
    gamma = DIRTY if abs(head.dirt) > 0.3 else CLEAN
    for path in (head.gap, 2 * head.gap * (0.5 + 0.5 * head.magnet)):
        needed = paschen_voltage(max(total * path / TORR_CM, 1e-6), a, b, gamma)
        if needed is not None and needed <= volts:
            return total * head.gap * (0.5 + 0.5 * head.magnet) > DARK
    return False


def current(head: Head, partial: Sequence[float], seconds: float) -> float:
    """A, `seconds` after it was switched on; what leaks over the insulator flows without a glow."""
    alone = head.leaks * head.demand if head.permitted and head.contact else 0.0
    if head.shorted and head.permitted and head.contact:
        return head.most * min(head.demand, 1.0)
    if seconds > head.trips or not strikes(head, partial):
        return alone
    total = sum(partial)
    air = partial[AIR] / total
    flows = head.sound * (total / head.pressure) ** 2 * head.demand * head.magnet
    flows *= 1 - (1 - IN_AIR) * air
    flows *= 1 + head.dirt * math.exp(-seconds / head.cleans)
    return min(flows, head.most) + alone


def trace(head: Head, seconds: Floats, partial: Floats, rng: np.random.Generator) -> Floats:
    """A at each moment (`partial`: rows of air, water, argon in Pa), with 1 % of noise and arcs."""
    amps = np.array([current(head, p, t) for t, p in zip(seconds, partial, strict=True)])
    amps *= 1 + 0.01 * rng.standard_normal(len(amps))
    step = float(np.median(np.diff(seconds)))
    struck = rng.random(len(amps)) < head.arcs / 60 * step
    # An arc takes what the supply gives, and the glow is gone for that moment.
    return np.where(struck & (amps > 0), amps * rng.uniform(0.1, 0.7, len(amps)), amps)
