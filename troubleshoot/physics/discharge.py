"""Striking and running the glow: breakdown voltage as a band, and scaling of the abnormal glow."""

import math
from dataclasses import dataclass

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ROOM_TEMPERATURE
from troubleshoot.physics.limits import Noted, above_zero, more_than_twofold, within

TORR_CM = 101325 / 760 * 0.01
"""One Torr cm in Pa m."""

_FAR = ("More than a factor of two away from the run it is scaled from: a guess.",)

GAMMA_LOW = 0.01
GAMMA_HIGH = 0.12
"""Electrons freed per argon ion: dirty or oxidised metal (low) to clean aluminium (high); clean
copper, nickel, platinum and iron 0.058 (Beroual and Fofana 2016); the low end is judgement."""

HIGHEST_PD = 100 * TORR_CM
"""Beyond about 100 Torr cm streamers take over and the law no longer holds (Raizer 1991)."""

# (A in 1/(Pa m), B in V/(Pa m), power), A and B from tables per Torr cm: first Lieberman and
# Lichtenberg, Principles of Plasma Discharges, 2nd ed., table 14.1; then Raizer, Gas Discharge
# Physics (1991). In neon electrons ionize by other steps at the weak fields of its minimum, so that
# the exponential puts it at 1.4 to 3.1 Torr cm, where 3 to 4 are measured. There
# alpha/p = C exp(-D (p/E)^(1/2)) holds (power 2, A = C, B = D^2): C 8.2, D 17, from memory: Ward,
# J. Appl. Phys. 33 (1962) 2789, as in Raizer (1991).
_TOWNSEND = {
    gas: tuple((a / TORR_CM, b / TORR_CM, power) for a, b, power in sets)
    for gas, sets in {
        "argon": ((11.5, 176, 1), (12, 180, 1)),
        "air": ((15, 365, 1),),
        "nitrogen": ((11.8, 325, 1), (12, 342, 1)),
        "helium": ((2.8, 77, 1), (3, 34, 1)),
        "neon": ((8.2, 17**2, 2),),
        "hydrogen": ((4.8, 136, 1), (5, 130, 1)),
    }.items()
}
COLDEST, HOTTEST = 200.0, 1000.0
"""K. Of the gas in a glow; beyond, a slip in the unit is likelier than such a coater: judgement."""


def _in_a_coater(temperature: float) -> None:
    why = "that is no gas in a coater, so check the unit"
    within(COLDEST, HOTTEST, "K", why, gas_temperature=temperature)


@dataclass(frozen=True)
class BreakdownBand:
    """The band in which the breakdown voltage lies, in V.

    `high` is None where a target that frees few electrons would not break down at all, `low` is
    None where no target would.
    """

    low: float | None
    high: float | None
    notes: tuple[str, ...] = ()


def _coefficients(gas_name: str) -> tuple[tuple[float, float, int], ...]:
    if gas_name not in _TOWNSEND:
        raise UserError(f"No breakdown data for {gas_name!r}: use {', '.join(_TOWNSEND)}.")
    return _TOWNSEND[gas_name]


def paschen_voltage(pd: float, a: float, b: float, gamma: float, power: int = 1) -> float | None:
    """Breakdown voltage in V between parallel plates: V = B pd / ln(A pd / ln(1 + 1/gamma))^power.

    pd in Pa m, A in 1/(Pa m), B in V/(Pa m), for ionization alpha/p = A exp(-(B p/E)^(1/power)).
    None where A pd <= ln(1 + 1/gamma): no breakdown. Source: Raizer, Gas Discharge Physics (1991).

    >>> round(paschen_voltage(10, 11, 135, 0.058), 4)
    371.4407
    """
    above_zero(pressure_times_gap=pd, coefficient_A=a, coefficient_B=b, gamma=gamma)
    electrons = a * pd / math.log1p(1 / gamma)
    return b * pd / math.log(electrons) ** power if electrons > 1 else None


def paschen_minimum(a: float, b: float, gamma: float, power: int = 1) -> tuple[float, float]:
    """The lowest breakdown voltage in V and the pd in Pa m where it lies.

    Vmin = B pd / power^power at pd = e^power L / A, with L = ln(1 + 1/gamma).

    Coefficients and source as in `paschen_voltage`.

    >>> voltage, pd = paschen_minimum(11, 135, 0.058)
    >>> round(voltage, 2), round(pd, 4)
    (96.87, 0.7176)
    """
    above_zero(coefficient_A=a, coefficient_B=b, gamma=gamma)
    loss = math.log1p(1 / gamma)
    pd = math.e**power * loss / a
    return b * pd / power**power, pd


def breakdown_band(
    gas_name: str, pressure: float, gap: float, temperature: float = ROOM_TEMPERATURE
) -> BreakdownBand:
    """Band of the breakdown voltage for a pressure in Pa, a gap in m and a gas temperature in K.

    The law of `paschen_voltage` over published coefficients and gamma from 0.01 to 0.12; never
    a point, for the state of the target's surface decides. Pressure is scaled to 20 degC. Plane,
    parallel electrodes; up to 100 Torr cm, beyond which it raises `UserError`. To the left of the
    minimum real discharges find longer paths and strike more easily than the law says, and the
    notes say so. Gas from 200 to 1000 K, else it raises `UserError`. Source: as `paschen_voltage`;
    the choice of gamma is judgement.

    >>> band = breakdown_band("argon", 133.3, 0.01)
    >>> round(band.low), round(band.high)
    (107, 193)
    """
    above_zero(pressure=pressure, gap=gap)
    _in_a_coater(temperature)
    sets = _coefficients(gas_name)
    pd = pressure * gap * ROOM_TEMPERATURE / temperature
    if pd > HIGHEST_PD:
        raise UserError(
            f"Pressure times gap is {pd / TORR_CM:.3g} Torr cm: beyond 100 Torr cm sparks form in "
            "another way and the law does not hold."
        )
    easy = [paschen_voltage(pd, a, b, GAMMA_HIGH, power) for a, b, power in sets]
    hard = [paschen_voltage(pd, a, b, GAMMA_LOW, power) for a, b, power in sets]
    low = min((v for v in easy if v is not None), default=None)
    high = None if None in hard else max(v for v in hard if v is not None)
    notes = []
    if low is None:
        notes.append(
            "Too few gas atoms in the gap for the law: raise the pressure or the distance (a real "
            "discharge may still find a longer path)."
        )
    elif high is None:
        notes.append("Near the limit: a clean target strikes, a dirty or oxidised one may not.")
    least = min(paschen_minimum(a, b, GAMMA_HIGH, power)[1] for a, b, power in sets)
    if low is not None and pd < least:
        notes.append(
            "Below the minimum the voltage climbs steeply as the pressure falls, but a real "
            "discharge may find a longer path and strike below this band."
        )
    return BreakdownBand(low, high, tuple(notes))


def easiest_pressures(
    gas_name: str, gap: float, temperature: float = ROOM_TEMPERATURE
) -> tuple[float, float]:
    """Band in Pa of the pressure at which a gap in m strikes at the lowest voltage.

    p = e^power ln(1 + 1/gamma) / (A d), the minimum of `paschen_voltage`, over the coefficients and
    gammas of `breakdown_band`, with its range and source; scaled to the gas temperature in K.

    >>> low, high = easiest_pressures("argon", 0.05)
    >>> round(low), round(high)
    (13, 29)
    """
    above_zero(gap=gap)
    _in_a_coater(temperature)
    pd = [
        paschen_minimum(a, b, gamma, power)[1]
        for a, b, power in _coefficients(gas_name)
        for gamma in (GAMMA_LOW, GAMMA_HIGH)
    ]
    thin = temperature / ROOM_TEMPERATURE
    return min(pd) / gap * thin, max(pd) / gap * thin


def same_voltage_current(current: float, pressure: float, new_pressure: float) -> Noted:
    """Current in A that runs at the same voltage at another pressure: I (p2/p1)^2.

    Similarity of the glow at fixed gap, gas and target: the voltage depends on i / p^2 alone.
    Pressures in one unit, true pressures at equal gas temperature. Within a factor of two in
    pressure; beyond, the notes say so. Source: Raizer, Gas Discharge Physics (1991), similarity
    laws.

    >>> round(same_voltage_current(0.010, 10, 12).value, 4)
    0.0144
    """
    above_zero(current=current, pressure=pressure, new_pressure=new_pressure)
    ratio = new_pressure / pressure
    return Noted(current * ratio**2, _FAR if more_than_twofold(ratio) else ())


def glow_exponent(first: tuple[float, float, float], second: tuple[float, float, float]) -> float:
    """Exponent n of V ~ (i/p^2)^n from two good runs, each (voltage V, current A, pressure Pa).

    n = ln(V2/V1) / ln((i2/p2^2) / (i1/p1^2)). There are no trustworthy published constants for
    argon on gold, so they come from the coater's own log. Source of i/p^2: as
    `same_voltage_current`; the power law is judgement. Raises `UserError` if the two runs have the
    same i/p^2.

    >>> round(glow_exponent((800, 0.010, 10), (1000, 0.020, 10)), 3)
    0.322
    """
    above_zero(
        **dict(zip(("first_voltage", "first_current", "first_pressure"), first, strict=True))
    )
    above_zero(
        **dict(zip(("second_voltage", "second_current", "second_pressure"), second, strict=True))
    )
    reduced = math.log((second[1] / second[2] ** 2) / (first[1] / first[2] ** 2))
    if abs(reduced) < 1e-9:
        raise UserError(
            "Both runs have the same current over pressure squared: give two that differ."
        )
    return math.log(second[0] / first[0]) / reduced


def glow_voltage(
    reference: tuple[float, float, float], exponent: float, current: float, pressure: float
) -> Noted:
    """Voltage in V expected of a run, from a reference run (V, A, Pa): V (i p0^2 / (i0 p^2))^n.

    Same coater, gas, target and distance, abnormal glow, within a factor of two in current and
    pressure of the reference; beyond, the notes say so. Source: as `same_voltage_current`; the
    power law is judgement. Raises `UserError` for an exponent that is not above zero: the glow is
    then not abnormal.

    >>> round(glow_voltage((800, 0.010, 10), 0.322, 0.020, 10).value)
    1000
    """
    voltage, current0, pressure0 = reference
    above_zero(
        reference_voltage=voltage,
        reference_current=current0,
        reference_pressure=pressure0,
        exponent=exponent,
        current=current,
        pressure=pressure,
    )
    far = more_than_twofold(current / current0, pressure / pressure0)
    expected = voltage * ((current / pressure**2) / (current0 / pressure0**2)) ** exponent
    return Noted(expected, _FAR if far else ())


def glow_current(
    reference: tuple[float, float, float], exponent: float, voltage: float, pressure: float
) -> Noted:
    """Current in A expected at a voltage in V and a pressure in Pa: i0 (p/p0)^2 (V/V0)^(1/n).

    The inverse of `glow_voltage`, with its range, refusals and source.

    >>> round(glow_current((800, 0.010, 10), 0.322, 1000, 10).value, 3)
    0.02
    """
    voltage0, current0, pressure0 = reference
    above_zero(
        reference_voltage=voltage0,
        reference_current=current0,
        reference_pressure=pressure0,
        exponent=exponent,
        voltage=voltage,
        pressure=pressure,
    )
    reduced = current0 / pressure0**2 * (voltage / voltage0) ** (1 / exponent)
    expected = reduced * pressure**2
    far = more_than_twofold(expected / current0, pressure / pressure0)
    return Noted(expected, _FAR if far else ())


def dark_space(seen: float, seen_pressure: float, pressure: float) -> Noted:
    """Thickness in m of the cathode dark space at a pressure, from one seen on the same coater.

    d p = constant at a given voltage. Thickness in m, pressures in one unit. If it reaches the
    specimen, sputtering fails. Within a factor of two in pressure; beyond, the notes say so.
    Source: Raizer, Gas Discharge Physics (1991), similarity laws.

    >>> dark_space(0.010, 10, 5).value
    0.02
    """
    above_zero(thickness_seen=seen, pressure_seen=seen_pressure, pressure=pressure)
    ratio = seen_pressure / pressure
    return Noted(seen * ratio, _FAR if more_than_twofold(ratio) else ())
