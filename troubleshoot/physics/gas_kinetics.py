"""Mean free path and flow regime."""

import math
from typing import Literal

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import BOLTZMANN, GAS_CONSTANT, ROOM_TEMPERATURE, Gas
from troubleshoot.physics.limits import above_zero

Regime = Literal["viscous", "transitional", "molecular"]

VISCOUS_BELOW = 0.01
MOLECULAR_ABOVE = 0.5


def mean_free_path(gas: Gas, pressure: float, temperature: float = ROOM_TEMPERATURE) -> float:
    """Mean free path in m from the viscosity, at `pressure` in Pa and `temperature` in K.

    lambda = (mu / p) sqrt(pi R T / (2 M)). Source: the definition of Jennings, J. Aerosol Sci. 19
    (1988) 159; others differ (argon by up to 12 %). Ideal gas, 200 to 600 K; beyond it raises
    `UserError`.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(mean_free_path(gas_named("argon"), 13.3) * 1e3, 2)  # mm at 0.1 Torr
    0.52
    """
    above_zero(pressure=pressure)
    viscosity = gas.viscosity(temperature)
    thermal = math.sqrt(math.pi * GAS_CONSTANT * temperature / (2 * gas.molar_mass))
    return viscosity / pressure * thermal


def mean_free_path_hard_sphere(
    gas: Gas, pressure: float, temperature: float = ROOM_TEMPERATURE
) -> float:
    """Mean free path in m of hard spheres: lambda = k T / (sqrt(2) pi d^2 p).

    SI units; ideal gas of any temperature. Source: the definition behind the table of the CRC
    Handbook of Chemistry and Physics. Raises `UserError` for a gas without a published diameter.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(mean_free_path_hard_sphere(gas_named("argon"), 1e5, 298.15) * 1e9, 1)  # nm
    72.3
    """
    above_zero(pressure=pressure, temperature=temperature)
    if gas.diameter is None:
        raise UserError(f"There is no hard-sphere diameter for {gas.name} here.")
    return BOLTZMANN * temperature / (math.sqrt(2) * math.pi * gas.diameter**2 * pressure)


def knudsen(path: float, size: float) -> float:
    """Knudsen number: mean free path over the size of the passage, both in m.

    Source: its definition (ISO 3529-1).

    >>> knudsen(0.5e-3, 50e-3)
    0.01
    """
    above_zero(mean_free_path=path, size=size)
    return path / size


def regime(knudsen_number: float) -> Regime:
    """Viscous below 0.01, molecular above 0.5, transitional between. Source of the limits:
    O'Hanlon, A User's Guide to Vacuum Technology; they are conventions.

    >>> regime(0.05)
    'transitional'
    """
    if knudsen_number < VISCOUS_BELOW:
        return "viscous"
    return "molecular" if knudsen_number > MOLECULAR_ABOVE else "transitional"
