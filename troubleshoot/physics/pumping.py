"""Pump-down, ultimate pressure, gas ballast and the gas that walls and seals give off."""

import math

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ATMOSPHERE, ROOM_TEMPERATURE
from troubleshoot.physics.limits import (
    Noted,
    above_zero,
    fraction,
    not_negative,
    shown,
    within,
)
from troubleshoot.physics.vapour import water_vapour_pressure

HOUR = 3600.0
BALLAST_FACTOR = 10.0
"""An open gas ballast raises a rotary pump's ultimate pressure by about one decade (common
practice, no source)."""

MOST_BALLAST = 0.5
"""Ballast flow over pumping speed: more is a slip (judgement)."""

EXHAUST_PRESSURE = 1.33e5
"""Pa. At this pressure the pump pushes its exhaust valve open (common practice, no source)."""

_EXPONENT = {"metal": 1.0, "glass": 1.0, "elastomer": 0.5}

USUAL_RATE = {"metal": 4e-5, "glass": 4e-5, "elastomer": 4e-3}
"""Pa m3/(s m2) after one hour, to a factor of ten either way: the middle of the figures in use for
unbaked steel and aluminium and for nitrile, FKM and silicone (common practice, no source; glass
taken as metal is judgement)."""

NO_LOWER = 1e-6
"""Pa. No coater on a bench gets below 1e-8 mbar, with whatever pump: judgement."""

LOG_LAW_FLOOR = 10.0
"""Pa. Below 0.1 mbar the walls decide, not the pump (common practice, no source)."""


def pump_down_time(
    volume: float, speed: float, start: float, end: float, ultimate: float = 0.0
) -> Noted:
    """Time in s to pump a clean, dry, tight chamber from `start` to `end` (Pa).

    t = (V / S) ln((p0 - pu) / (p - pu)), V in m3, effective speed S in m3/s, pu the pressure the
    chamber would reach in the end. Good to about 10 % from the atmosphere to 1 mbar, roughly to
    0.1 mbar, and down to 10 pu; below that the answer is the shortest time possible, and the notes
    say so. Source: O'Hanlon, A User's Guide to Vacuum Technology.

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
    if end < NO_LOWER:
        raise UserError(
            f"The end pressure of {shown(end)} is below anything that a bench coater reaches: gas "
            "from its walls and seals ends the pump-down long before. Check the exponent."
        )
    if end <= ultimate:
        raise UserError(
            f"The end pressure of {shown(end)} is never reached: the chamber ends at the ultimate "
            f"pressure of {shown(ultimate)}."
        )
    seconds = volume / speed * math.log((start - ultimate) / (end - ultimate))
    return Noted(seconds, pump_down_notes(end, ultimate))


def pressure_after(
    seconds: float, volume: float, speed: float, start: float, ultimate: float = 0.0
) -> float:
    """Pressure in Pa after pumping for `seconds`: pu + (p0 - pu) exp(-S t / V).

    The inverse of `pump_down_time`, with its units, range (`pump_down_notes`) and source. Raises
    `UserError` if `start` is below `ultimate`.

    >>> round(pressure_after(47.233136, 5e-3, 1e-3, 101325, 2), 4)
    10.0
    """
    above_zero(volume=volume, speed=speed, start_pressure=start)
    not_negative(seconds=seconds, ultimate_pressure=ultimate)
    if start < ultimate:
        raise UserError(
            f"The start pressure of {shown(start)} is below the ultimate pressure of "
            f"{shown(ultimate)}: nothing is left to pump."
        )
    pressure = ultimate + (start - ultimate) * math.exp(-speed * seconds / volume)
    if pressure < NO_LOWER:
        raise UserError(
            f"By this law the chamber would be at {shown(pressure)}, below anything that a bench "
            "coater reaches: say where this one ends after a long time with --ultimate."
        )
    return pressure


def speed_needed(volume: float, seconds: float, start: float, end: float) -> Noted:
    """Effective speed in m3/s that pumps `volume` from `start` to `end` in `seconds`.

    S = (V / t) ln(p0 / p), with the units, range and source of `pump_down_time`; below its range
    the notes say that more is needed.

    >>> round(speed_needed(0.2, 180, 101325, 10).value * 1e3, 1)  # litres a second
    10.2
    """
    above_zero(seconds=seconds)
    time = pump_down_time(volume, 1.0, start, end)
    return Noted(time.value / seconds, time.notes)


def pump_down_notes(end: float, ultimate: float) -> tuple[str, ...]:
    """What must be said where the law of `pump_down_time` promises too much. Pressures in Pa.

    Source: common practice, no source.

    >>> len(pump_down_notes(5.0, 2.0))
    2
    >>> pump_down_notes(100.0, 2.0)
    ()
    """
    notes = []
    if end < LOG_LAW_FLOOR:
        notes.append(
            "Below 0.1 mbar gas from walls, seals and specimens rules: expect worse than this."
        )
    if end < 10 * ultimate:
        notes.append(
            "Near the ultimate pressure the pump slows down: this is the best that can happen."
        )
    return tuple(notes)


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


def ballast_tolerance(
    ballast: float,
    speed: float,
    pump_temperature: float,
    humidity: float = 0.5,
    room_temperature: float = ROOM_TEMPERATURE,
) -> float:
    """Highest pressure in Pa of water vapour that a pump with open gas ballast keeps as vapour.

    Of what goes out at the exhaust pressure pe, water must stay below its saturation pressure ps
    at the temperature of the pump: (S pw + B pa) pe = ps (S pw + B p0), so
    pw = (B / S) (ps p0 - pe pa) / (pe - ps). Ballast flow B (room air at p0 = 1 atm with water pa)
    and speed S in m3/s, temperatures in K, `humidity` of the room 0 to 1. Zero if even the room's
    own damp would condense. Source: mass balance; pe is `EXHAUST_PRESSURE`. Raises `UserError`
    for a pump so hot (above 107 degC) that nothing condenses, and for a ballast that lets in more
    than half of what the pump moves (a tenth is usual: common practice, no source).

    >>> from troubleshoot.physics.gases import ROOM_TEMPERATURE
    >>> round(ballast_tolerance(0.1, 1, ROOM_TEMPERATURE + 50) / 100)  # mbar
    30
    """
    above_zero(ballast_flow=ballast, speed=speed)
    fraction(humidity=humidity)
    if ballast > MOST_BALLAST * speed:
        raise UserError(
            f"A ballast flow of {ballast / speed:.3g} times the pump's speed cannot be: a tenth is "
            "usual, and the handbook of the pump says how much."
        )
    saturation = water_vapour_pressure(pump_temperature)
    if saturation >= EXHAUST_PRESSURE:
        raise UserError(
            f"In a pump at {pump_temperature - 273.15:.0f} degC water does not condense at all: is "
            "that its temperature?"
        )
    outside = humidity * water_vapour_pressure(room_temperature)
    spare = saturation * ATMOSPHERE - EXHAUST_PRESSURE * outside
    return max(0.0, ballast / speed * spare / (EXHAUST_PRESSURE - saturation))


def outgassing_rate(material: str, rate_1h: float, seconds: float) -> float:
    """Gas given off per area in Pa m3/(s m2) after pumping for `seconds`.

    Metals and glass q = q1 (1 h / t); elastomers q = q1 (1 h / t)^0.5. `rate_1h` is the rate
    after one hour. Between 0.5 and 100 hours, beyond which it raises `UserError`; rates of one
    material differ by a factor of ten, so read the result as a decade. Source: Elsey, Vacuum 25
    (1975) 299; exponents: common practice, no source.

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
