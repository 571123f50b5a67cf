"""Which control at the microscope weakens which kind of charging: what a simple circuit says.

A patch takes up part of the beam's current and leaks it to earth. Three kinds differ in what the
leak is and in how long the beam feeds it; each is worked out over wide ranges of leak, capacitance,
current and crossover, before and after a control is turned. Where most of the range agrees the
physics says something, elsewhere it cannot.
"""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from troubleshoot.physics.charging import EXPONENTS, charged_to, tilted_crossover

Kind = Literal["floating", "gaps", "deep", "none"]
Control = Literal["kv", "current", "dwell", "tilt", "coat", "bridge", "backscatter"]
Says = Literal["better", "same", "cannot_say"]

KINDS: tuple[Kind, ...] = ("floating", "gaps", "deep", "none")
CONTROLS: tuple[Control, ...] = (
    "kv", "current", "dwell", "tilt", "coat", "bridge", "backscatter",
)  # fmt: skip

VISIBLE = 1.0
"""V: secondaries have some eV, so a volt is seen."""
BENDS_FAST = 0.05
"""Share of the beam's energy from which a voltage bends backscattered electrons too: judgement."""
CLEARLY = 0.5
"""What is left of the voltage where people say that the trouble is clearly weaker: judgement."""
MOST, FEW = 0.7, 0.3
"""Shares of the range from which it says better, and to which it says the same."""
USUAL_KV, LOW_KV = 15.0, 2.0
"""keV: what is usually left set, and the lowest but one of the looks at 5, 2 and 1 kV."""
SMALLER = 7.0
"""A probe current five to ten times smaller."""
SLOW, FAST = (20e-6, 0.1e-6)
"""s on a pixel: a photo scan and TV rate."""
TILT = 45.0
"""Degrees, the most that people are asked to tilt."""
PIXELS, PATCH = 1e6, 1e3
"""Pixels of a frame, and of them on one patch."""
POSITIVE_MOST = 5.0
"""V: a positive charge pulls its own secondaries back and goes no further."""


@dataclass(frozen=True)
class Patch:
    """What is charged: leak in ohm, capacitance in F, beam in A and keV, crossover in keV, dwell in
    s; `whole` where the beam feeds it all the time and not only as it passes."""

    leak: float
    capacitance: float
    current: float
    crossover: float
    exponent: float
    whole: bool
    deep: bool
    kv: float = USUAL_KV
    dwell: float = SLOW

    def voltage(self) -> float:
        """The voltage that is seen in V: its height where it is fed all the time, else its swing.

        A patch that the beam passes swings by I R (1 - exp(-a/RC)) (1 - exp(-b/RC)) /
        (1 - exp(-(a+b)/RC)), a the time on it and b off it.
        """
        yielded = 0.1 + 0.9 * (self.kv / self.crossover) ** (1 - self.exponent)
        taken = self.current * abs(1 - yielded)
        most = 1e3 * (self.kv - self.crossover) if self.kv > self.crossover else POSITIVE_MOST
        # A charge that lies deep has as far to go to the film as the beam got below it.
        leak = self.leak * (self.kv / USUAL_KV) ** 1.67 if self.deep else self.leak
        if self.whole:
            return charged_to(taken, leak, self.capacitance, 100.0, most)
        on, off = PATCH * self.dwell, (PIXELS - PATCH) * self.dwell
        time = leak * self.capacitance
        swing = math.expm1(-on / time) * math.expm1(-off / time) / -math.expm1(-(on + off) / time)
        return min(most, taken * leak * swing)


# Ohm, F: a piece on glue or bare plastic (a millimetre of polymer of 1e13 to 1e18 ohm m, or of
# glass, and what creeps over it); islands that leak to one another; charge below a closed film.
_LEAK = {"floating": (1e12, 1e17), "gaps": (1e10, 1e15), "deep": (1e11, 1e16)}
_CAPACITANCE = {"floating": (1e-13, 1e-11), "gaps": (1e-16, 1e-14), "deep": (1e-16, 1e-14)}
_CURRENT = (1e-11, 1e-10, 1e-9)
_CROSSOVER = (0.8, 1.6, 3.0)
METAL_LEAK = 1e6
"""Ohm, at most, of a closed film or of a bridge to the stub."""


def _decades(low: float, high: float) -> list[float]:
    return [10.0**n for n in range(round(math.log10(low)), round(math.log10(high)) + 1)]


def patches(kind: Kind) -> Iterator[Patch]:
    """The patches of a kind, over its range. Source: as the module says; ranges are judgement.

    >>> len(list(patches("floating")))
    324
    """
    for leak, capacitance, current, crossover, exponent in itertools.product(
        _decades(*_LEAK[kind]), _decades(*_CAPACITANCE[kind]), _CURRENT, _CROSSOVER, EXPONENTS
    ):
        yield Patch(
            leak, capacitance, current, crossover, exponent, kind == "floating", kind == "deep"
        )


def _turned(patch: Patch, kind: Kind, control: Control) -> Patch:
    if control == "kv":
        return replace(patch, kv=LOW_KV)
    if control == "current":
        return replace(patch, current=patch.current / SMALLER)
    if control == "tilt":
        return replace(patch, crossover=tilted_crossover(patch.crossover, TILT))
    if control == "dwell":
        return replace(patch, dwell=FAST)
    earthed = (control == "coat" and kind == "gaps") or (control == "bridge" and kind == "floating")
    return replace(patch, leak=METAL_LEAK) if earthed else patch


def share_better(kind: Kind, control: Control) -> float:
    """Share of a kind's range in which a control clearly weakens what is seen, 0 to 1.

    Only patches whose charge is seen before. Source: definition by `Patch.voltage`.

    >>> share_better("floating", "dwell"), share_better("gaps", "coat")
    (0.0, 1.0)
    """
    if kind == "none":
        return 0.0
    better = seen = 0
    for patch in patches(kind):
        before = patch.voltage()
        if before < VISIBLE:
            continue
        seen += 1
        if control == "backscatter":
            better += before < BENDS_FAST * 1e3 * patch.kv
        else:
            after = _turned(patch, kind, control).voltage()
            better += after < VISIBLE or after < CLEARLY * before
    return better / seen


def says(kind: Kind, control: Control) -> Says:
    """What the circuit says of a control: better, the same, or that it cannot say.

    Source: `share_better`, with the limits `MOST` and `FEW`.

    >>> says("floating", "bridge"), says("gaps", "bridge")
    ('better', 'same')
    """
    share = share_better(kind, control)
    if share >= MOST:
        return "better"
    return "same" if share <= FEW else "cannot_say"
