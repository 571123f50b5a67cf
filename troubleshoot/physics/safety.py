"""Two numbers worth knowing before something goes wrong: oxygen in the room, force on the lid."""

import math

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ATMOSPHERE, GAS_CONSTANT, ROOM_TEMPERATURE
from troubleshoot.physics.limits import above_zero, not_negative, shown, within

OXYGEN_IN_AIR = 0.2095
LARGEST_CYLINDER = 0.15
SMALLEST_ROOM = 2.0
"""m3. Nobody stands in less: judgement."""
OXYGEN_TOO_LOW = 0.195
"""Share of oxygen below which air is hazardous (29 CFR 1910.146)."""

# Argon at 20 degC, in m3/mol and m6/mol2. Together they give a full cylinder 6 % more gas than the
# ideal gas law.
_SECOND_VIRIAL = -1.62e-5
_THIRD_VIRIAL = 1.1e-9


def released_volume(cylinder_volume: float, fill_pressure: float) -> float:
    """Volume in m3 that a cylinder's argon takes up at 1 atm and 20 degC.

    Cylinder volume in m3, absolute fill pressure in Pa, up to 30 MPa. Virial equation
    p = rho R T (1 + B rho + C rho^2), solved for rho by bisection; within 1 % to 200 bar,
    2 % to 300 bar. What stays in the
    cylinder (1 atm) is counted as released, which errs on the safe side. Source of B and C: from
    memory: Dymond et al., Virial Coefficients of Pure Gases.

    >>> round(released_volume(0.05, 200e5), 1)
    10.5
    """
    above_zero(cylinder_volume=cylinder_volume, fill_pressure=fill_pressure)
    within(0, 3e7, "Pa", "no argon cylinder is filled so high", fill_pressure=fill_pressure)
    thermal = GAS_CONSTANT * ROOM_TEMPERATURE
    low, high = 0.0, 2 * fill_pressure / thermal
    for _ in range(60):
        density = (low + high) / 2
        pressure = density * thermal * (1 + _SECOND_VIRIAL * density + _THIRD_VIRIAL * density**2)
        low, high = (density, high) if pressure < fill_pressure else (low, density)
    return cylinder_volume * low * thermal / ATMOSPHERE


def check_cylinder(cylinder_volume: float, fill_pressure: float) -> None:
    """Raise `UserError` unless this is a cylinder and full: up to 150 L, above the atmosphere.

    Volume of water in it in m3, absolute pressure in Pa. Source: ISO 9809-1, which is for seamless
    steel cylinders from 0.5 L up to and including 150 L.

    >>> check_cylinder(0.05, 200e5)
    """
    if cylinder_volume > LARGEST_CYLINDER:
        raise UserError(
            f"A cylinder of {cylinder_volume * 1e3:.4g} L is larger than any (150 L): give the "
            "volume of water in it, stamped on its shoulder, and not that of the gas."
        )
    if fill_pressure <= ATMOSPHERE:
        raise UserError(
            f"A cylinder at {shown(fill_pressure)} lets out nothing: give its pressure when full, "
            "such as 200 bar."
        )


def check_room(volume: float) -> None:
    """Raise `UserError` for what is no room: less than `SMALLEST_ROOM` m3.

    Source: common practice, no source.

    >>> check_room(40)
    """
    if volume < SMALLEST_ROOM:
        raise UserError(
            f"A room of {volume:.3g} m3 holds nobody: give length times width times height, in m3."
        )


def oxygen_after_release(gas_volume: float, room_volume: float) -> float:
    """Share of oxygen in a closed room when gas has pushed out its own volume of air (worst case).

    0.2095 (1 - Vg / Vr), volumes in m3 at room pressure. Mean of the room: argon gathers low
    down, so pits and cupboards are worse. Source: University of Nottingham, safety calculators.

    >>> round(oxygen_after_release(10.4, 50), 3)
    0.166
    """
    not_negative(gas_volume=gas_volume)
    above_zero(room_volume=room_volume)
    return OXYGEN_IN_AIR * max(0.0, 1 - gas_volume / room_volume)


def oxygen_after_mixing(gas_volume: float, room_volume: float) -> float:
    """Share of oxygen in a closed room when the gas mixes with the air as it pushes it out.

    0.2095 exp(-Vg / Vr), volumes in m3 at room pressure. Source: mass balance of a mixed room.

    >>> round(oxygen_after_mixing(10.4, 50), 3)
    0.17
    """
    not_negative(gas_volume=gas_volume)
    above_zero(room_volume=room_volume)
    return OXYGEN_IN_AIR * math.exp(-gas_volume / room_volume)


def oxygen_with_ventilation(
    leak: float, fresh_air: float, room_volume: float, seconds: float = math.inf
) -> float:
    """Share of oxygen in a ventilated, mixed room after gas has leaked for `seconds` (or for ever).

    0.2095 (1 - L / (L + F) (1 - exp(-(L + F) t / V))), leak L and fresh air F in m3/s. Source:
    mass balance of a mixed room.

    >>> round(oxygen_with_ventilation(1.0, 13.0, 100), 4)
    0.1945
    """
    above_zero(room_volume=room_volume, leak_and_fresh_air=leak + fresh_air)
    not_negative(leak=leak, fresh_air=fresh_air)
    filled = -math.expm1(-(leak + fresh_air) * seconds / room_volume)
    return OXYGEN_IN_AIR * (1 - leak / (leak + fresh_air) * filled)


def force_on_lid(diameter: float, pressure_difference: float = ATMOSPHERE) -> float:
    """Force in N with which the air presses on a round lid: F = dp pi d^2 / 4. SI units.

    Source: definition of pressure.

    >>> round(force_on_lid(0.15))
    1791
    """
    above_zero(diameter=diameter)
    not_negative(pressure_difference=pressure_difference)
    return pressure_difference * math.pi * diameter**2 / 4
