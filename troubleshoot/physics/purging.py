"""How much air flushing with argon leaves, and how much a leak brings back.

All shares are shares of the gas in the chamber, 1 meaning nothing but air.
"""

import math

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import above_zero, fraction, not_negative, shown

PUREST = 1e-7
"""Share of foreign gas in the purest argon that is sold, grade 7.0 (from memory)."""
CLEAN_ENOUGH = 0.1
TOO_MUCH_AIR = 0.2
"""Share of air in the discharge up to which one coats, and above which one looks for the leak
first (judgement)."""


def filled_air_share(
    low: float, high: float, cycles: int, start: float = 1.0, fill_share: float = 0.0
) -> float:
    """Air left after `cycles` of pumping to `low` and, pump shut off, filling with argon to `high`.

    y = y0 r^n + y_fill (1 - r^n), r = low / high. Pressures in any one unit. The gas must mix.
    Source: Branan, Rules of Thumb for Chemical Engineers, dilution purging.

    Raises `UserError` unless `low` is below `high`.

    >>> round(filled_air_share(0.2, 0.35, 3), 3)
    0.187
    """
    above_zero(low_pressure=low, high_pressure=high)
    not_negative(cycles=cycles)
    fraction(start_share=start, share_in_the_fill=fill_share)
    _let_in(low, high)
    left: float = (low / high) ** cycles
    return start * left + fill_share * (1 - left)


def argon_used(volume: float, low: float, high: float, cycles: int) -> float:
    """Argon that `cycles` fillings from `low` to `high` take, in Pa m3: n V (ph - pl). SI units.

    Divide by the pressure of the room for its volume there. Constant temperature. Source: as
    `filled_air_share`.

    >>> argon_used(1, 0.5, 1, 5)
    2.5
    """
    above_zero(volume=volume, low_pressure=low, high_pressure=high)
    not_negative(cycles=cycles)
    _let_in(low, high)
    return cycles * volume * (high - low)


def cycles_needed(low: float, high: float, start: float, target: float) -> float:
    """How many fillings take the share from `start` to `target` (round up): ln(y0/y) / ln(ph/pl).

    The inverse of `filled_air_share`, with its units and source. Raises `UserError` unless `low` is
    below `high` and `target` below `start`.

    >>> round(cycles_needed(0.5, 1, 0.21, 0.01), 2)
    4.39
    """
    above_zero(low_pressure=low, high_pressure=high, start_share=start, target_share=target)
    fraction(start_share=start, target_share=target)
    _let_in(low, high)
    if target >= start:
        raise UserError(
            f"The share wanted ({target:g}) must be below the share at the start ({start:g})."
        )
    return math.log(start / target) / math.log(high / low)


def swept_air_share(
    volume: float, speed: float, seconds: float, cycles: int = 1, start: float = 1.0
) -> float:
    """Air left after argon has swept the chamber with the pump running, `cycles` times `seconds`.

    y = y0 exp(-n S t / V), V in m3, effective speed S in m3/s: argon in, mixture out, at a steady
    pressure. The gas must mix, and there must be no leak (`air_share_with_leak` has one). Source:
    mass balance of a mixed chamber.

    >>> round(swept_air_share(3e-3, 0.7e-3, 12), 3)
    0.061
    """
    above_zero(volume=volume, speed=speed)
    not_negative(seconds=seconds, cycles=cycles)
    fraction(start_share=start)
    return start * math.exp(-speed * seconds * cycles / volume)


def leak_air_share(leak: float, argon_flow: float) -> float:
    """The share of air that a leak keeps up however long one flushes: Q_leak / (Q_leak + Q_argon).

    Both in Pa m3/s. At a working pressure p the pump takes away S p, so this is also
    Q_leak / (S p). Source: steady mass balance.

    >>> round(leak_air_share(1e-3, 9e-3), 6)
    0.1
    """
    not_negative(leak=leak, argon_flow=argon_flow)
    above_zero(total_flow=leak + argon_flow)
    return leak / (leak + argon_flow)


def leak_allowed(pressure: float, speed: float, share: float = CLEAN_ENOUGH) -> float:
    """Leak in Pa m3/s that keeps the air in the discharge at `share`: Q = y S p.

    Working pressure in Pa, effective speed in m3/s. The inverse of `leak_air_share` with all gas
    flow S p. Source: steady mass balance; the tenth is an old rule for pumped systems.

    >>> round(leak_allowed(10, 0.7e-3), 9)
    0.0007
    """
    above_zero(working_pressure=pressure, speed=speed, share=share)
    fraction(share=share)
    return share * speed * pressure


def air_share_with_leak(
    seconds: float, volume: float, speed: float, leak: float, argon_flow: float, start: float = 1.0
) -> float:
    """Share of air in the discharge after `seconds` of argon flow with a leak. SI units.

    y = y_leak + (y0 - y_leak) exp(-S t / V), y_leak of `leak_air_share`. Source: mass balance of
    a mixed chamber at a steady pressure. Without a leak this is `swept_air_share` of one sweep.

    >>> round(air_share_with_leak(600, 5e-3, 0.7e-3, 1e-3, 9e-3), 3)
    0.1
    """
    settled = leak_air_share(leak, argon_flow)
    return settled + (start - settled) * swept_air_share(volume, speed, seconds)


def _let_in(low: float, high: float) -> None:
    if low >= high:
        raise UserError(
            f"The low pressure of {shown(low)} must be below the high pressure of {shown(high)}: "
            "argon is let in to raise it."
        )
