"""Conductance of tubes and openings, and what a hose leaves of a pump's speed."""

import math

from troubleshoot.physics.gases import GAS_CONSTANT, ROOM_TEMPERATURE, Gas
from troubleshoot.physics.limits import above_zero


def molecular_long_tube(diameter: float, length: float, mean_speed: float) -> float:
    """Conductance in m3/s of a long round tube in molecular flow: C = pi c d^3 / (12 L).

    Diameter and length in m, mean molecular speed in m/s. Knudsen number above 0.5, length above
    about 10 diameters. Source: Knudsen, Ann. Phys. 28 (1909) 75.

    >>> round(molecular_long_tube(0.07, 2.47, 471), 6)
    0.017123
    """
    above_zero(diameter=diameter, length=length, mean_speed=mean_speed)
    return math.pi * mean_speed * diameter**3 / (12 * length)


def orifice(diameter: float, mean_speed: float) -> float:
    """Conductance in m3/s of a thin round opening in molecular flow: C = A c / 4, A = pi d^2 / 4.

    Source: kinetic theory (O'Hanlon, A User's Guide to Vacuum Technology).

    >>> round(orifice(0.01, 462.9) * 1e3, 2)  # litres a second
    9.09
    """
    above_zero(diameter=diameter, mean_speed=mean_speed)
    return math.pi * diameter**2 * mean_speed / 16


def viscous_tube(diameter: float, length: float, mean_pressure: float, viscosity: float) -> float:
    """Conductance in m3/s of a round tube in laminar viscous flow: C = pi d^4 p / (128 mu L).

    `mean_pressure` in Pa is the mean of both ends, viscosity in Pa s. Knudsen number below 0.01,
    Reynolds number below 2000. Source: Hagen-Poiseuille law for a gas.

    >>> round(viscous_tube(0.01, 1, 100, 1.82e-5) * 1e3, 2)  # litres a second
    1.35
    """
    above_zero(diameter=diameter, length=length, mean_pressure=mean_pressure, viscosity=viscosity)
    return math.pi * diameter**4 * mean_pressure / (128 * viscosity * length)


def knudsen_long_tube(
    gas: Gas,
    diameter: float,
    length: float,
    mean_pressure: float,
    temperature: float = ROOM_TEMPERATURE,
) -> float:
    """Conductance in m3/s of a long round tube at any pressure, by Knudsen's formula.

    C = C_viscous + Z C_molecular, Z = (1 + x) / (1 + 1.24 x), x = sqrt(M / (R T)) d p / mu.
    Source: Knudsen, Ann. Phys. 28 (1909) 75. SI units, `mean_pressure` in Pa is the mean of both
    ends; length above about 10 diameters, laminar flow.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(knudsen_long_tube(gas_named("air"), 0.016, 1.0, 10) * 1e3, 2)  # litres a second
    1.29
    """
    viscosity = gas.viscosity(temperature)
    viscous = viscous_tube(diameter, length, mean_pressure, viscosity)
    molecular = molecular_long_tube(diameter, length, gas.mean_speed(temperature))
    x = (
        math.sqrt(gas.molar_mass / (GAS_CONSTANT * temperature))
        * diameter
        * mean_pressure
        / viscosity
    )
    return viscous + molecular * (1 + x) / (1 + 1.24 * x)


def tube(
    gas: Gas,
    diameter: float,
    length: float,
    mean_pressure: float,
    temperature: float = ROOM_TEMPERATURE,
) -> float:
    """Conductance in m3/s of a round tube of any length: the long tube in series with its mouth.

    The mouth matters in molecular flow (for one diameter of length it more than halves C); it is
    taken as a thin opening of the tube's bore, which gives the usual factor 1 / (1 + 4 d / (3 L))
    and slightly understates a short tube in viscous flow. SI units. Source: O'Hanlon, A User's
    Guide to Vacuum Technology.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(tube(gas_named("argon"), 0.016, 1.0, 10) * 1e3, 2)  # litres a second
    1.01
    """
    return in_series(
        knudsen_long_tube(gas, diameter, length, mean_pressure, temperature),
        orifice(diameter, gas.mean_speed(temperature)),
    )


def in_series(*conductances: float) -> float:
    """Conductance in m3/s of parts one after another: 1/C = 1/C1 + 1/C2 + ...

    Source: steady flow is the same through each (O'Hanlon, A User's Guide to Vacuum Technology).

    >>> in_series(1.0, 1.0)
    0.5
    """
    above_zero(**{f"conductance_{i}": c for i, c in enumerate(conductances, 1)})
    return 1 / sum(1 / c for c in conductances)


def effective_speed(pump_speed: float, conductance: float) -> float:
    """Speed in m3/s that reaches the chamber through a hose: S C / (S + C).

    Steady flow at constant temperature. Source: O'Hanlon, A User's Guide to Vacuum Technology.

    >>> round(effective_speed(500, 100), 1)
    83.3
    """
    return in_series(pump_speed, conductance)
