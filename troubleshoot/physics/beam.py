"""What a stray magnetic field does to the electron beam of a microscope."""

import math

from troubleshoot.physics.limits import above_zero

ELECTRON_MASS = 9.1093837e-31
"""kg (CODATA 2018)."""

ELEMENTARY_CHARGE = 1.602176634e-19
"""C (exact in the SI)."""


def gyroradius(voltage: float, field: float) -> float:
    """Radius in m on which electrons of a voltage in V turn across a field in T.

    R = sqrt(2 m V / e) / B, below some 30 kV, without relativity (1.5 % too small there). Source:
    textbook mechanics.

    >>> round(gyroradius(1000, 1e-3), 4)
    0.1066
    """
    above_zero(voltage=voltage, field=field)
    return math.sqrt(2 * ELECTRON_MASS * voltage / ELEMENTARY_CHARGE) / field


def field_shift(voltage: float, field: float, path: float) -> float:
    """Shift in m of a beam of a voltage in V that crosses a field in T on a path in m: L^2 / (2 R).

    R as `gyroradius`; for paths far shorter than that. Of an alternating field the amplitude gives
    half of the tooth's width. Source: geometry.

    >>> round(field_shift(10_000, 1e-7, 0.010) * 1e9)  # nm, of 1 mG over 10 mm at 10 kV
    15
    """
    above_zero(path=path)
    return path**2 / (2 * gyroradius(voltage, field))
