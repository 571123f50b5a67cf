"""Conductance of tubes and openings, and what a hose leaves of a pump's speed."""

import math

from troubleshoot.physics.gas_kinetics import knudsen, mean_free_path, regime
from troubleshoot.physics.gases import GAS_CONSTANT, ROOM_TEMPERATURE, Gas
from troubleshoot.physics.limits import Noted, above_zero, not_negative

TURBULENT_ABOVE = 2000.0
"""Reynolds number up to which flow in a tube is laminar (a convention)."""
SHORT_BELOW = 10.0
"""Length over bore from which a tube counts as long (a convention)."""


def molecular_long_tube(diameter: float, length: float, mean_speed: float) -> float:
    """Conductance in m3/s of a long round tube in molecular flow: C = pi c d^3 / (12 L).

    Diameter and length in m, mean molecular speed in m/s. Knudsen number above 0.5, length above
    about 10 diameters, neither of which is checked: `tube` covers the rest. Source: Knudsen, Ann.
    Phys. 28 (1909) 75.

    >>> round(molecular_long_tube(0.07, 2.47, 471), 6)
    0.017123
    """
    above_zero(diameter=diameter, length=length, mean_speed=mean_speed)
    return math.pi * mean_speed * diameter**3 / (12 * length)


def orifice(diameter: float, mean_speed: float) -> float:
    """Conductance in m3/s of a thin round opening in molecular flow: C = A c / 4, A = pi d^2 / 4.

    Diameter in m, mean molecular speed in m/s. Knudsen number above 0.5; `opening` checks it.
    Source: kinetic theory (O'Hanlon, A User's Guide to Vacuum Technology).

    >>> round(orifice(0.01, 462.9) * 1e3, 2)  # litres a second
    9.09
    """
    above_zero(diameter=diameter, mean_speed=mean_speed)
    return math.pi * diameter**2 * mean_speed / 16


def opening(
    gas: Gas, diameter: float, pressure: float, temperature: float = ROOM_TEMPERATURE
) -> Noted:
    """What `orifice` gives for a gas, with a word if the pressure is too high for it.

    Diameter in m, pressure in Pa, temperature in K (200 to 600). Source: as `orifice`.

    >>> from troubleshoot.physics.gases import gas_named
    >>> opening(gas_named("argon"), 0.01, 10).notes[0]
    'Flow through it is transitional, not molecular: more than this gets through.'
    """
    through = orifice(diameter, gas.mean_speed(temperature))
    flow = regime(knudsen(mean_free_path(gas, pressure, temperature), diameter))
    if flow == "molecular":
        return Noted(through)
    note = f"Flow through it is {flow}, not molecular: more than this gets through."
    return Noted(through, (note,))


def reynolds(
    gas: Gas, flow: float, diameter: float, temperature: float = ROOM_TEMPERATURE
) -> float:
    """Reynolds number of a gas flow in Pa m3/s through a round tube: Re = 4 M Q / (pi d mu R T).

    Laminar below about 2000. SI units, 200 to 600 K. Source: its definition, with the density of
    an ideal gas.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(reynolds(gas_named("air"), 100, 0.016), -2)
    5200.0
    """
    above_zero(diameter=diameter)
    not_negative(flow=flow)
    molar = flow / (GAS_CONSTANT * temperature)
    return 4 * gas.molar_mass * molar / (math.pi * diameter * gas.viscosity(temperature))


def viscous_tube(diameter: float, length: float, mean_pressure: float, viscosity: float) -> float:
    """Conductance in m3/s of a round tube in laminar viscous flow: C = pi d^4 p / (128 mu L).

    Diameter and length in m; `mean_pressure` in Pa is the mean of both ends, viscosity in Pa s.
    Knudsen number below 0.01, which is not checked (`tube` covers the rest), Reynolds number below
    2000 (`reynolds`). Source: Hagen-Poiseuille law for a gas.

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
    ends, 200 to 600 K; laminar flow, length above about 10 diameters (`tube` covers the rest).

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(knudsen_long_tube(gas_named("air"), 0.016, 1.0, 10) * 1e3, 2)  # litres a second
    1.29
    """
    molecular = molecular_long_tube(diameter, length, gas.mean_speed(temperature))
    return _with_molecular_part(molecular, gas, diameter, length, mean_pressure, temperature)


def tube(
    gas: Gas,
    diameter: float,
    length: float,
    mean_pressure: float,
    temperature: float = ROOM_TEMPERATURE,
) -> float:
    """Conductance in m3/s of a round tube at any pressure, with its mouth.

    Knudsen's formula with the molecular part in series with a thin opening of the tube's bore,
    C_molecular / (1 + 4 d / (3 L)): for one diameter of length that more than halves it. SI units,
    range as `knudsen_long_tube`, but any length in molecular flow; `tube_notes` says where it is
    too high. Source: Knudsen, Ann. Phys. 28 (1909) 75; O'Hanlon, A User's Guide to Vacuum
    Technology.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(tube(gas_named("argon"), 0.016, 1.0, 10) * 1e3, 2)  # litres a second
    1.06
    """
    speed = gas.mean_speed(temperature)
    molecular = in_series(molecular_long_tube(diameter, length, speed), orifice(diameter, speed))
    return _with_molecular_part(molecular, gas, diameter, length, mean_pressure, temperature)


def tube_notes(
    gas: Gas,
    diameter: float,
    length: float,
    mean_pressure: float,
    temperature: float = ROOM_TEMPERATURE,
) -> tuple[str, ...]:
    """What must be said beside `tube`, with its arguments: it is too high for short tubes.

    Source: common practice, no source.

    >>> from troubleshoot.physics.gases import gas_named
    >>> tube_notes(gas_named("argon"), 0.016, 1.0, 10)
    ()
    """
    flow = regime(knudsen(mean_free_path(gas, mean_pressure, temperature), diameter))
    if flow == "molecular" or length >= SHORT_BELOW * diameter:
        return ()
    return ("Into so short a tube less than this flows at this pressure.",)


def _with_molecular_part(
    molecular: float,
    gas: Gas,
    diameter: float,
    length: float,
    mean_pressure: float,
    temperature: float,
) -> float:
    viscosity = gas.viscosity(temperature)
    viscous = viscous_tube(diameter, length, mean_pressure, viscosity)
    x = (
        math.sqrt(gas.molar_mass / (GAS_CONSTANT * temperature))
        * diameter
        * mean_pressure
        / viscosity
    )
    return viscous + molecular * (1 + x) / (1 + 1.24 * x)


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
