"""The rise of pressure with the pump valve shut, and what can be read from it."""

import math

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ATMOSPHERE, GAS_CONSTANT
from troubleshoot.physics.limits import above_zero, not_negative, shown

HIGHEST_END = 0.528 * ATMOSPHERE
"""Pa. Up to here even the shortest way in lets air through at the speed of sound, and so at an
even rate (isentropic flow: 2/(g + 1) to the power g/(g - 1))."""
CHOKED_UP_TO = 0.05
"""A leak from the room feeds a steady flow while the chamber is below this share of an
atmosphere."""
SHORTEST_PUMPED = 1800.0
"""s. From here on the laws of outgassing are tested (common practice, no source)."""


def throughput(volume: float, start: float, end: float, seconds: float) -> float:
    """Gas entering an isolated chamber in Pa m3/s: Q = V (p2 - p1) / t.

    `volume` in m3 is everything up to the shut valve, pressures in Pa. Temperature constant (a
    degree makes 0.3 %); true pressures, so correct the gauge for its gas first. Source: 40 CFR
    1065.644.

    Raises `UserError` if the pressure falls, and from half an atmosphere on: there a leak lets in
    less and less, and the mean says nothing of it.

    >>> throughput(5e-3, 5, 20, 60)
    0.00125
    """
    above_zero(volume=volume, seconds=seconds)
    not_negative(start_pressure=start, end_pressure=end)
    if end < start:
        raise UserError(
            f"The pressure falls from {shown(start)} to {shown(end)}: was the valve to the pump "
            "really shut?"
        )
    if end > HIGHEST_END:
        raise UserError(
            f"At {shown(end)} the chamber is filling up and a leak lets in less and less: take the "
            "second reading while it is below 500 mbar, and still rising in a straight line."
        )
    return volume * (end - start) / seconds


def molar_leak_rate(
    volume: float,
    start: float,
    end: float,
    seconds: float,
    start_temperature: float,
    end_temperature: float,
) -> float:
    """Leak in mol/s when the temperature moves: n = (V / R) (p2 / T2 - p1 / T1) / t. SI units.

    Ideal gas at one temperature throughout. Below zero if the chamber loses gas. Source: 40 CFR
    1065.644, equation 1065.644-1.

    >>> round(molar_leak_rate(2e-3, 25300, 50600, 70, 293.15, 293.15), 8)
    0.00029657
    """
    above_zero(
        volume=volume,
        seconds=seconds,
        start_temperature=start_temperature,
        end_temperature=end_temperature,
    )
    not_negative(start_pressure=start, end_pressure=end)
    moles = volume / GAS_CONSTANT * (end / end_temperature - start / start_temperature)
    return moles / seconds


def speed_from_rise(volume: float, rise: float, base: float, blank_off: float = 0.0) -> float:
    """Speed in m3/s at the chamber, from the rate of rise and the base pressure.

    The rise gives the gas load, the base what the pump makes of it:
    S = V (dp/dt) / (p_base - p_blank). Volume m3, rise Pa/s, base and blank-off pressure Pa.
    The rise must be read soon after the valve is shut, at the gas load of the base pressure.
    Source: O'Hanlon, A User's Guide to Vacuum Technology.

    Raises `UserError` if the base is less than twice the blank-off pressure: the difference is
    then smaller than what both gauges may be wrong by.

    >>> round(speed_from_rise(5e-3, 1.2, 10, 2) * 1e3, 6)  # litres a second
    0.75
    """
    above_zero(volume=volume, rate_of_rise=rise, base_pressure=base)
    not_negative(blank_off_pressure=blank_off)
    if base < 2 * blank_off:
        raise UserError(
            f"A base pressure of {shown(base)} is less than twice the blank-off pressure of "
            f"{shown(blank_off)}: the pump itself sets the base, so it tells no speed."
        )
    return volume * rise / (base - blank_off)


def leak_pressure(seconds: float, start: float, leak: float, volume: float) -> float:
    """Pressure in Pa of an isolated chamber with a leak: p0 + Q t / V, a straight line.

    Leak in Pa m3/s, volume in m3. Straight while the chamber stays below 5 % of an atmosphere;
    beyond that it is refused. Source: isothermal gas balance.

    >>> leak_pressure(60, 5, 1e-3, 5e-3)
    17.0
    """
    above_zero(volume=volume)
    not_negative(seconds=seconds, start_pressure=start, leak=leak)
    pressure = start + leak * seconds / volume
    if pressure > CHOKED_UP_TO * ATMOSPHERE:
        raise UserError(
            f"The leak would bring the chamber to {shown(pressure)}, more than 5 % of an "
            "atmosphere, where the rise is no longer a straight line."
        )
    return pressure


def wall_pressure(
    seconds: float, start: float, gas_load: float, pumped: float, volume: float
) -> float:
    """Pressure in Pa of an isolated chamber whose metal and glass give off gas as 1/t.

    p = p0 + (Q t1 / V) ln(1 + t / t1), V in m3, Q in Pa m3/s the gas load when the valve shuts,
    after pumping for t1 = `pumped` seconds. Source: integral of the 1/t law
    (`pumping.outgassing_rate`), which is tested from half an hour of pumping on
    (`outgassing_notes`).

    >>> round(wall_pressure(600, 5, 1e-4, 600, 5e-3), 3)
    13.318
    """
    above_zero(volume=volume, pumped_for=pumped)
    not_negative(seconds=seconds, start_pressure=start, gas_load=gas_load)
    return start + gas_load * pumped / volume * math.log1p(seconds / pumped)


def seal_pressure(
    seconds: float, start: float, gas_load: float, pumped: float, volume: float
) -> float:
    """Pressure in Pa of an isolated chamber whose elastomer seals give off gas as t^-1/2.

    p = p0 + (2 Q t1 / V) (sqrt(1 + t / t1) - 1), meaning and units as `wall_pressure`. Source:
    integral of the t^-1/2 law (`pumping.outgassing_rate`).

    >>> round(seal_pressure(600, 5, 1e-4, 600, 5e-3), 3)
    14.941
    """
    above_zero(volume=volume, pumped_for=pumped)
    not_negative(seconds=seconds, start_pressure=start, gas_load=gas_load)
    return start + 2 * gas_load * pumped / volume * (math.sqrt(1 + seconds / pumped) - 1)


def outgassing_notes(pumped: float) -> tuple[str, ...]:
    """What must be said beside `wall_pressure` and `seal_pressure` after `pumped` seconds.

    Source: common practice, no source.

    >>> outgassing_notes(3600)
    ()
    """
    if pumped >= SHORTEST_PUMPED:
        return ()
    return ("After less than half an hour of pumping walls and seals follow the law only roughly.",)


def virtual_leak_pressure(
    seconds: float,
    start: float,
    pocket_pressure: float,
    pocket_volume: float,
    volume: float,
    conductance: float,
) -> float:
    """Pressure in Pa of an isolated chamber fed by a trapped pocket of gas.

    p = p0 + (p1 - p0) V1 / (V + V1) (1 - exp(-t / tau)), 1/tau = C (1/V1 + 1/V): two volumes
    joined by a narrow path of constant conductance C (m3/s), which a real path has only in
    molecular flow. SI units. Source: gas balance of both volumes.

    >>> round(virtual_leak_pressure(1e6, 0, 1e5, 1e-6, 5e-3, 1e-9), 3)
    19.996
    """
    above_zero(volume=volume, pocket_volume=pocket_volume, conductance=conductance)
    not_negative(seconds=seconds, start_pressure=start, pocket_pressure=pocket_pressure)
    tau = 1 / (conductance * (1 / pocket_volume + 1 / volume))
    final = (pocket_pressure - start) * pocket_volume / (volume + pocket_volume)
    return start + final * -math.expm1(-seconds / tau)


def vapour_pressure_limited(
    seconds: float, start: float, saturation: float, time_constant: float
) -> float:
    """Pressure in Pa of an isolated chamber with liquid in it: it stops at saturation.

    p = p0 + (ps - p0) (1 - exp(-t / tau)), ps from `vapour`, tau in s from the wet area. Source:
    evaporation into a closed space, rate proportional to ps - p (Hertz-Knudsen equation).

    Raises `UserError` if the chamber starts above saturation: other gas is then in it.

    >>> round(vapour_pressure_limited(1e4, 10, 2339, 60))
    2339
    """
    above_zero(saturation_pressure=saturation, time_constant=time_constant)
    not_negative(seconds=seconds, start_pressure=start)
    if start > saturation:
        raise UserError(
            f"The start pressure of {shown(start)} is above the vapour pressure of "
            f"{shown(saturation)}: what is in the chamber is not this vapour alone."
        )
    return start + (saturation - start) * -math.expm1(-seconds / time_constant)
