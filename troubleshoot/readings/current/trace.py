"""The running part of a log of the discharge, and what can happen in it.

Numbers that name no source are judgement.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.points import display_step
from troubleshoot.sources.rows import Floats

FEWEST = 20
"""A log of a discharge needs so many rows, and so does whatever is told from it."""
STRIKING = 3.0
"""s. A glow that has just struck jerks; at most a tenth of the log is left out for it."""
WINDOW = 5.0
"""s, over which the running level is taken."""
JUMP, NOISES = 0.1, 6.0
"""A jump leaves the level by this share of it, and by this many times the scatter."""


@dataclass(frozen=True)
class Event:
    """Something at `start`, `seconds` long; `depth`: the share of the current that it departs by.

    The share is of what was there before. A step's depth has a sign (below zero: down).
    """

    kind: str  # "jump", "step" or "out"
    start: float
    seconds: float
    depth: float


@dataclass(frozen=True)
class Swing:
    """A periodic change: period in s, depth from crest to trough in A.

    `curve`: what it adds to the current at each row of the running part, in A.
    """

    period: Estimate
    depth: Estimate
    curve: Floats


@dataclass(frozen=True)
class Trace:
    """The running part of a log. `lit`: rows with the glow on; `steady`: of these, no jump."""

    seconds: Floats
    amps: Floats
    level: float
    lit: NDArray[np.bool_]
    steady: NDArray[np.bool_]
    events: tuple[Event, ...]
    swing: Swing | None = None

    @property
    def minutes(self) -> float:
        """How long it ran, pauses and all."""
        return float(self.seconds[-1] - self.seconds[0]) / 60

    @property
    def even(self) -> Floats:
        """The current without its swing, in A."""
        return self.amps if self.swing is None else self.amps - self.swing.curve

    def of(self, kind: str) -> list[Event]:
        """The events of one kind."""
        return [e for e in self.events if e.kind == kind]

    @property
    def watched(self) -> float:
        """How long a jump could have been seen, in s: not while one is on, nor while it is out."""
        steps = np.diff(self.seconds)
        both = self.steady[1:] & self.steady[:-1]
        return max(float(steps[both & (steps < WINDOW)].sum()), float(np.median(steps)))


def display(values: Floats) -> float:
    """The step of the display that is usual in these values."""
    shown = values[np.isfinite(values) & (values > 0)]
    return float(np.median(display_step(shown))) if len(shown) else 0.0
