"""Pump-down, ultimate pressure, gas ballast and the gas that walls and seals give off."""

import math

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import Estimate, above_zero, not_negative, shown, within

HOUR = 3600.0
BALLAST_FACTOR = 10.0
"""An open gas ballast raises a rotary pump's ultimate pressure by about one decade (common
practice, no source)."""

_EXPONENT = {"metal": 1.0, "glass": 1.0, "elastomer": 0.5}

LOG_LAW_FLOOR = 10.0
"""Pa. Below 0.1 mbar the walls decide, not the pump (common practice, no source)."""


def pump_down_time(
    volume: float, speed: float, start: float, end: float, ultimate: float = 0.0
) -> Estimate:
    """Time in s to pump a clean, dry, tight chamber from `start` to `end` (Pa).

    t = (V / S) ln((p0 - pu) / (p - pu)), V in m3, effective speed S in m3/s, pu the pressure the
    chamber would reach in the end. Good to about 10 % from the atmosphere to 1 mbar and down to
    10 pu; below that the answer is the shortest time possible, and the notes say so. Source:
    O'Hanlon, A User's Guide to Vacuum Technology.

    Raises `UserError` if `end` is not below `start`, or not above `ultimate`.

    >>> round(pump_down_time(5e-3, 1e-3, 101325, 10, 2).value, 2)
    47.23
    """
    above_zero(volume=volume, speed=speed, start_pressure=start, end_pressure=end)
    not_negative(ultimate_pressure=ultimate)
    if end >= start:
        raise UserError(
            f"The end pressure of {shown(end)} must be below the start pressure of {shown(start)}."
        )
    if end <= ultimate:
        raise UserError(
            f"The end pressure of {shown(end)} is never reached: the chamber ends at the ultimate "
            f"pressure of {shown(ultimate)}."
        )
    notes = []
    if end < LOG_LAW_FLOOR:
        notes.append(
            "Below 0.1 mbar gas from walls, seals and specimens rules: expect longer than this."
        )
    if end < 10 * ultimate:
        notes.append(
            "Near the ultimate pressure the pump slows down: this is the shortest time possible."
        )
    seconds = volume / speed * math.log((start - ultimate) / (end - ultimate))
    return Estimate(seconds, tuple(notes))


def pressure_after(
    seconds: float, volume: float, speed: float, start: float, ultimate: float = 0.0
) -> float:
    """Pressure in Pa after pumping for `seconds`: pu + (p0 - pu) exp(-S t / V).

    The inverse of `pump_down_time`, with the same range and source.

    >>> round(pressure_after(47.233136, 5e-3, 1e-3, 101325, 2), 4)
    10.0
    """
    above_zero(volume=volume, speed=speed, start_pressure=start)
    not_negative(seconds=seconds, ultimate_pressure=ultimate)
    return ultimate + (start - ultimate) * math.exp(-speed * seconds / volume)


def speed_needed(volume: float, seconds: float, start: float, end: float) -> float:
    """Effective speed in m3/s that pumps `volume` from `start` to `end` in `seconds`.

    S = (V / t) ln(p0 / p), with the range and source of `pump_down_time`.

    >>> round(speed_needed(0.2, 180, 101325, 10) * 1e3, 1)  # litres a second
    10.2
    """
    above_zero(seconds=seconds)
    return pump_down_time(volume, 1.0, start, end).value / seconds


def ultimate_pressure(blank_off: float, gas_load: float, speed: float) -> float:
    """Pressure in Pa at which the chamber ends: pu = p_blank + Q / S.

    Blank-off pressure of the pump in Pa, gas load (leak and outgassing) in Pa m3/s, effective
    speed in m3/s. Source: O'Hanlon, A User's Guide to Vacuum Technology.

    >>> round(ultimate_pressure(2.0, 7e-3, 0.7e-3), 9)
    12.0
    """
    above_zero(speed=speed)
    not_negative(blank_off_pressure=blank_off, gas_load=gas_load)
    return blank_off + gas_load / speed


def ballast_blank_off(blank_off: float) -> float:
    """Blank-off pressure in Pa with the gas ballast open: about ten times the closed one.

    The factor is `BALLAST_FACTOR`, common practice, no source; take it as 3 to 30.

    >>> ballast_blank_off(0.5)
    5.0
    """
    above_zero(blank_off_pressure=blank_off)
    return BALLAST_FACTOR * blank_off


def outgassing_rate(material: str, rate_1h: float, seconds: float) -> float:
    """Gas given off per area in Pa m3/(s m2) after pumping for `seconds`.

    Metals and glass q = q1 (1 h / t); elastomers q = q1 (1 h / t)^0.5. `rate_1h` is the rate
    after one hour. Between 0.5 and 100 hours; rates of one material differ by a factor of ten,
    so read the result as a decade. Source: Elsey, Vacuum 25 (1975) 299; exponents: common
    practice, no source.

    >>> outgassing_rate("metal", 1.3e-5, 7200)
    6.5e-06
    """
    above_zero(rate_after_one_hour=rate_1h)
    within(
        0.5, 100, "h", "the laws of outgassing are not tested there", pumping_time=seconds / HOUR
    )
    if material not in _EXPONENT:
        raise UserError(f"{material!r} is not a material here: use {', '.join(_EXPONENT)}.")
    return rate_1h * (HOUR / seconds) ** _EXPONENT[material]
