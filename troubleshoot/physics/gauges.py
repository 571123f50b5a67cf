"""What a thermal-conductivity gauge, scaled for air, means in another gas."""

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import Noted, above_zero

LOWEST = 1.0
"""Pa (1e-2 mbar)."""
HIGHEST = 100.0
"""Pa (1 mbar)."""
NOT_AT_ALL = 1e4
"""Pa (100 mbar). Up there the heat that is lost hardly depends on the pressure: common practice, no
source."""
COARSE = 0.5
"""How far off it may be between 1 and 100 mbar, in air: common practice, no source."""
ACCURACY = 0.2
"""How far off such a gauge may be either way, clean and with the right factor (common practice, no
source: 15 to 25 %)."""

# True pressure over indicated pressure of a gauge scaled for air or nitrogen, mean values:
# common practice, no source. Kinetic theory gives argon 1.76, carbon dioxide 0.93.
_FACTOR = {
    "argon": 1.7,
    "air": 1.0,
    "nitrogen": 1.0,
    "oxygen": 1.0,
    "water vapour": 0.5,
    "carbon dioxide": 0.9,
    "helium": 0.8,
    "hydrogen": 0.5,
    "neon": 1.4,
    "krypton": 2.4,
    "xenon": 3.0,
}


def gauge_factor(gas_name: str) -> float:
    """True over indicated pressure of a heat-loss gauge scaled for air, 1 to 100 Pa, about 20 %.

    `gas_name` is a `gases.Gas` name. Not for ionization gauges, whose factors go the other way.
    Source: common practice, no source.

    >>> gauge_factor("argon")
    1.7
    """
    if gas_name not in _FACTOR:
        raise UserError(f"No gauge factor for {gas_name!r}: use {', '.join(_FACTOR)}.")
    return _FACTOR[gas_name]


def true_pressure(gas_name: str, indicated: float) -> Noted:
    """True pressure in Pa from what a heat-loss gauge scaled for air shows in a pure gas.

    p = C p_indicated, 1 to 100 Pa (0.01 to 1 mbar), within about 20 %. Below, the notes say that
    the gauge is near its floor. Raises `UserError` above 100 Pa, where the curve of each gas has
    its own shape, and in air above 100 mbar (`accuracy` tells how far off it may be). In a mixture
    the truth lies between the values of its gases. Source: as `gauge_factor`.

    >>> round(true_pressure("argon", 5).value, 3)
    8.5
    """
    above_zero(indicated_pressure=indicated)
    factor = gauge_factor(gas_name)
    if indicated > HIGHEST and factor != 1:
        raise UserError(
            f"A reading of {indicated:g} Pa is above 100 Pa (1 mbar): there a heat-loss gauge can "
            f"be far off in {gas_name}, and no factor helps."
        )
    if indicated > NOT_AT_ALL:
        raise UserError(
            f"A reading of {indicated:g} Pa is above 100 mbar: up there a heat-loss gauge tells "
            "air from vacuum and little more; use one that feels the force of the gas."
        )
    notes = (
        ("Below 1 Pa (0.01 mbar) a heat-loss gauge is near its floor: read it as an upper limit.",)
        if indicated < LOWEST
        else ()
    )
    return Noted(factor * indicated, notes)


def accuracy(indicated: float) -> float:
    """How far off a clean heat-loss gauge may be either way at a reading in Pa, as a share.

    Source: common practice, no source.

    >>> accuracy(10), accuracy(1000)
    (0.2, 0.5)
    """
    above_zero(indicated_pressure=indicated)
    return ACCURACY if indicated <= HIGHEST else COARSE


def indicated_pressure(gas_name: str, true: float) -> float:
    """What a heat-loss gauge scaled for air shows at a true pressure in Pa: p / C.

    The inverse of `true_pressure`, with its range and source; for turning a wanted argon pressure
    into a set-point.

    >>> round(indicated_pressure("argon", 10), 2)
    5.88
    """
    above_zero(true_pressure=true)
    factor = gauge_factor(gas_name)
    true_pressure(gas_name, true / factor)
    return true / factor
