"""What a quartz crystal monitor weighs, and what its number is worth if it was told wrong."""

import math

from troubleshoot.physics.limits import Noted, above_zero

QUARTZ_DENSITY = 2648.0
"""kg/m3 (CRC Handbook of Chemistry and Physics, from memory)."""
QUARTZ_SHEAR = 2.947e10
"""Pa: shear modulus of an AT-cut plate, piezoelectrically stiffened (from memory)."""
THIN = 0.02
"""Shift over frequency up to which mass and shift go together (Lu and Lewis, J. Appl. Phys. 43
(1972) 4385, from memory)."""


def weighed_thickness(shift: float, frequency: float, density: float) -> Noted:
    """Thickness in m of a film that lowers a crystal's frequency by `shift`, both in Hz.

    sqrt(rho_q mu_q) shift / (2 f^2 rho), density of the film in kg/m3. Up to a shift of 2 %;
    beyond, the notes say so. Source: Sauerbrey, Z. Phys. 155 (1959) 206.

    >>> round(weighed_thickness(1000, 6e6, 19300).value * 1e9, 2)  # nm of gold
    6.36
    """
    above_zero(shift=shift, frequency=frequency, density=density)
    sensitivity = math.sqrt(QUARTZ_DENSITY * QUARTZ_SHEAR) / (2 * frequency**2)
    notes = (
        ("More than 2 % of the frequency: the Z ratio of the metal matters now.",)
        if shift / frequency > THIN
        else ()
    )
    return Noted(sensitivity * shift / density, notes)


def true_thickness(
    shown: float, density_set: float, density: float, tooling_set: float = 1, tooling: float = 1
) -> float:
    """Thickness in m behind the one shown in m by a monitor that was told wrong.

    t = shown x (density set / density) x (tooling / tooling set), for a monitor that divides the
    mass by the density and multiplies by the tooling factor; densities in one unit, and factors.
    Source: definition of both settings.

    >>> round(true_thickness(10e-9, 19300, 7190) * 1e9, 1)  # chromium weighed as gold
    26.8
    """
    above_zero(
        shown=shown, density_set=density_set, density=density, tooling_set=tooling_set,
        tooling=tooling,
    )  # fmt: skip
    return shown * density_set / density * tooling / tooling_set
