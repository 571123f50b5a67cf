"""Logs of a simulated coater, as a logger writes them."""

import numpy as np
from numpy.typing import NDArray

from troubleshoot import units

Floats = NDArray[np.float64]


def pressure_log(seconds: Floats, pascal: Floats, unit: str = "mbar") -> str:
    """A table of times and pressures with its head, in `unit`."""
    shown = pascal / units.to_si(1, unit, "pressure")
    rows = (f"{t:.1f},{p:.6g}\n" for t, p in zip(seconds, shown, strict=True))
    return f"time (s),pressure ({unit})\n{''.join(rows)}"
