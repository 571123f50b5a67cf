"""Leaks: the same leak in another gas, as a mass, and what seals let through although whole."""

import math

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ATMOSPHERE, GAS_CONSTANT, ROOM_TEMPERATURE, Gas
from troubleshoot.physics.limits import above_zero, fraction, not_negative, within
from troubleshoot.physics.vapour import water_vapour_pressure

# Permeability in m2/s (Pa m3/s through 1 m2 of 1 m thickness for 1 Pa) near 20 degC to dry air and
# to water vapour, at the high end of each published span: from memory: Peacock, J. Vac. Sci.
# Technol. 17 (1980) 330.
PERMEABILITY = {
    "nitrile": (2.8e-12, 7.6e-10),
    "FKM": (4.7e-13, 4.0e-11),
    "silicone": (2.5e-10, 8.0e-9),
}


def mass_flow(gas: Gas, flow: float, temperature: float = ROOM_TEMPERATURE) -> float:
    """Mass in kg/s of a gas flow in Pa m3/s measured at a temperature in K: Q M / (R T).

    Source: ideal gas law (O'Hanlon, A User's Guide to Vacuum Technology).

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(mass_flow(gas_named("air"), 1e-3) * 365 * 86400 * 1e3)  # grams a year
    375
    """
    above_zero(temperature=temperature)
    not_negative(flow=flow)
    return flow * gas.molar_mass / (GAS_CONSTANT * temperature)


def molecular_ratio(gas: Gas, other: Gas) -> float:
    """How many times more of `other` than of `gas` a fine leak lets through: sqrt(M / M_other).

    Molecular flow, same pressures and temperature; leaks below about 1e-8 Pa m3/s. Source: kinetic
    theory (O'Hanlon, A User's Guide to Vacuum Technology); the limit is common practice, no source.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(molecular_ratio(gas_named("air"), gas_named("helium")), 2)
    2.69
    """
    return math.sqrt(gas.molar_mass / other.molar_mass)


def viscous_ratio(gas: Gas, other: Gas, temperature: float = ROOM_TEMPERATURE) -> float:
    """How many times more of `other` than of `gas` a coarse leak lets through: mu / mu_other.

    Laminar viscous flow, same pressures, temperature in K from 200 to 600; leaks from about 1e-6
    Pa m3/s on. Source: Hagen-Poiseuille law for a gas; the limit is common practice, no source.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(viscous_ratio(gas_named("air"), gas_named("helium")), 2)
    0.92
    """
    return gas.viscosity(temperature) / other.viscosity(temperature)


def permeation(permeability: float, area: float, thickness: float, difference: float) -> float:
    """Gas in Pa m3/s that passes through a whole piece of rubber in the end: Q = K A dp / d.

    Permeability in m2/s, area in m2, thickness in m, difference of the gas's partial pressure in
    Pa. A new piece needs hours to days to get there. Source: O'Hanlon, A User's Guide to Vacuum
    Technology.

    >>> round(permeation(4e-11, 1e-3, 5e-3, 1400), 10)
    1.12e-08
    """
    above_zero(permeability=permeability, area=area, thickness=thickness)
    not_negative(pressure_difference=difference)
    return permeability * area * difference / thickness


def seal_permeation(
    material: str, length: float, humidity: float = 0.6, temperature: float = ROOM_TEMPERATURE
) -> float:
    """Damp room air in Pa m3/s that passes through a seal of `length` m with vacuum inside.

    `permeation` of dry air and of water vapour through a ring about as high as it is wide
    (judgement), to a factor of five. `humidity` of the room 0 to 1, its temperature in K (5 to 40
    degC); the permeabilities are those near 20 degC. Source: as `permeation`; the permeabilities
    from memory: Peacock, J. Vac. Sci. Technol. 17 (1980) 330. Raises `UserError` for another
    material, and beyond those temperatures.

    >>> round(seal_permeation("FKM", 0.5), 9)
    5.2e-08
    """
    above_zero(length=length)
    fraction(humidity=humidity)
    celsius = temperature - 273.15
    why = "the permeabilities are those of rubber in a room"
    within(5, 40, "degC", why, temperature_of_the_room=round(celsius, 6))
    if material not in PERMEABILITY:
        raise UserError(f"{material!r} is not a material here: use {', '.join(PERMEABILITY)}.")
    water = humidity * water_vapour_pressure(temperature)
    for_air, for_water = PERMEABILITY[material]
    return permeation(for_air, length, 1.0, ATMOSPHERE - water) + permeation(
        for_water, length, 1.0, water
    )
