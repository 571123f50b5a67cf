"""What the other modules need to know about each gas."""

import math
from dataclasses import dataclass
from difflib import get_close_matches

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import above_zero, within

BOLTZMANN = 1.380649e-23
"""J/K, exact (SI brochure)."""
GAS_CONSTANT = 8.31446261815324
"""J/(mol K), exact (SI brochure)."""
ATMOSPHERE = 101325.0
"""Pa, exact (standard atmosphere)."""
ROOM_TEMPERATURE = 293.15
"""K: 20 degC."""


@dataclass(frozen=True)
class Gas:
    """One gas: molar mass in kg/mol, viscosity in Pa s at 300 K, Sutherland constant in K,
    hard-sphere diameter in m (None where we have no published one).

    Sources. Molar masses: IUPAC standard atomic weights. Viscosities and Sutherland constants:
    from memory: CRC Handbook of Chemistry and Physics, viscosity of gases; White, Viscous Fluid
    Flow. Diameters: CRC Handbook of Chemistry and Physics, 100th edition, mean free path table;
    air: U.S. Standard Atmosphere 1976.
    """

    name: str
    molar_mass: float
    viscosity_300: float
    sutherland: float
    diameter: float | None = None

    def viscosity(self, temperature: float) -> float:
        """Viscosity in Pa s at low pressure by Sutherland's law, 200 to 600 K.

        mu = mu_300 (T/300)^1.5 (300 + S)/(T + S). Within 1 % at room temperature and 3 % elsewhere
        (water vapour 8 % above 350 K); beyond that range it raises `UserError`. Source:
        Sutherland, Phil. Mag. 36 (1893) 507; the constants as said at `Gas`.

        >>> round(gas_named("argon").viscosity(293.15) * 1e5, 2)
        2.23
        """
        within(200, 600, "K", "the viscosity law is not tested there", temperature=temperature)
        return (
            self.viscosity_300
            * (temperature / 300) ** 1.5
            * (300 + self.sutherland)
            / (temperature + self.sutherland)
        )

    def mean_speed(self, temperature: float) -> float:
        """Mean thermal speed of the molecules in m/s at a temperature in K: sqrt(8 R T / (pi M)).

        Any ideal gas. Source: kinetic theory (O'Hanlon, A User's Guide to Vacuum Technology).

        >>> round(gas_named("nitrogen").mean_speed(293.15))
        471
        """
        above_zero(temperature=temperature)
        return math.sqrt(8 * GAS_CONSTANT * temperature / (math.pi * self.molar_mass))


GASES = (
    Gas("argon", 0.039948, 2.27e-5, 144, 3.58e-10),
    Gas("air", 0.028965, 1.85e-5, 110.4, 3.65e-10),
    Gas("nitrogen", 0.028014, 1.79e-5, 107, 3.70e-10),
    Gas("oxygen", 0.031998, 2.07e-5, 127, 3.55e-10),
    Gas("water vapour", 0.018015, 0.99e-5, 1064),
    Gas("carbon dioxide", 0.044009, 1.50e-5, 240, 4.53e-10),
    Gas("helium", 0.0040026, 2.00e-5, 79.4, 2.15e-10),
    Gas("hydrogen", 0.0020159, 0.90e-5, 72, 2.71e-10),
    Gas("neon", 0.02018, 3.21e-5, 56),
    Gas("krypton", 0.083798, 2.56e-5, 188),
    Gas("xenon", 0.131293, 2.32e-5, 252),
)

_BY_NAME = {gas.name: gas for gas in GASES}
_SYMBOL = {
    "ar": "argon",
    "n2": "nitrogen",
    "o2": "oxygen",
    "h2o": "water vapour",
    "water": "water vapour",
    "co2": "carbon dioxide",
    "he": "helium",
    "h2": "hydrogen",
    "ne": "neon",
    "kr": "krypton",
    "xe": "xenon",
}


def gas_named(name: str) -> Gas:
    """The gas called `name`, in words or by its symbol; raises `UserError` for any other.

    >>> gas_named("Ar").name
    'argon'
    """
    key = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    gas = _BY_NAME.get(_SYMBOL.get(key, key))
    if gas is None:
        near = get_close_matches(key, [*_BY_NAME, *_SYMBOL], n=1)
        hint = f"did you mean {near[0]}?" if near else f"use {', '.join(_BY_NAME)}."
        raise UserError(f"{name!r} is not a gas known here: {hint}")
    return gas
