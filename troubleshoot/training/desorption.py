"""Water on walls and in rubber, as many small stores that empty each at its own pace.

A store of time constant tau gives off N/tau and falls as exp(-t/tau). Equal stores per step of
ln tau make the 1/t law of walls, stores that grow as sqrt(tau) the t^-1/2 law of rubber (both
O'Hanlon, A User's Guide to Vacuum Technology; the stores follow from the Laplace transforms of
these laws). Open to the room the stores fill again, so a coater that was left open remembers it.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HOUR = 3600.0
_STEP = math.log(10) / 3
TAUS = np.exp(np.arange(math.log(3.0), math.log(1e9), _STEP))
"""s: three stores a decade, from what is gone at once to what stays for years."""
REFILL = 60.0
"""s in which the room's damp covers a wall again: judgement. Rubber takes in as slowly as it gives
off."""


@dataclass(frozen=True)
class Stores:
    """Amounts in Pa m3 of the walls and of the rubber; `full` is what each holds in the room."""

    walls: Floats
    rubber: Floats
    full_walls: Floats
    full_rubber: Floats

    @classmethod
    def of(cls, walls: float, seals: float) -> "Stores":
        """Full stores that give off `walls` and `seals` Pa m3/s after an hour."""
        metal = np.full(len(TAUS), walls * HOUR * _STEP)
        rubber = seals * math.sqrt(HOUR) / math.gamma(0.5) * _STEP * np.sqrt(TAUS)
        return cls(metal, rubber, metal, rubber)

    def flow(self, seconds: float) -> float:
        """Pa m3/s after `seconds` of vacuum."""
        return float((self.walls + self.rubber) / TAUS @ np.exp(-seconds / TAUS))

    def after_vacuum(self, seconds: float) -> "Stores":
        left = np.exp(-seconds / TAUS)
        return replace(self, walls=self.walls * left, rubber=self.rubber * left)

    def after_air(self, seconds: float) -> "Stores":
        wall, rubber = math.exp(-seconds / REFILL), np.exp(-seconds / TAUS)
        return replace(
            self,
            walls=self.full_walls - (self.full_walls - self.walls) * wall,
            rubber=self.full_rubber - (self.full_rubber - self.rubber) * rubber,
        )
