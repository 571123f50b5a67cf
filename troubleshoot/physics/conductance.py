"""Conductance of tubes and openings, and what a hose leaves of a pump's speed."""

import math

from troubleshoot.physics.gas_kinetics import knudsen, mean_free_path, regime
from troubleshoot.physics.gases import GAS_CONSTANT, ROOM_TEMPERATURE, Gas
from troubleshoot.physics.limits import Noted, above_zero, not_negative

TURBULENT_ABOVE = 2000.0
"""Reynolds number up to which flow in a tube is laminar (a convention)."""
SHORT_BELOW = 10.0
"""Length over bore from which a tube counts as long (a convention)."""

# Length over radius -> share of the molecules at the mouth of a round tube that get through:
# from memory: Clausing, Ann. Phys. 12 (1932) 961, as computed anew by Cole (1977).
_CLAUSING = {
    0.1: 0.9524, 0.2: 0.9092, 0.5: 0.8013, 1.0: 0.6720, 1.5: 0.5810, 2.0: 0.5142, 3.0: 0.4201,
    4.0: 0.3566, 5.0: 0.3105, 10.0: 0.1909, 20.0: 0.1093, 50.0: 0.0485, 100.0: 0.0253,
}  # fmt: skip
_SINGLE_ATOMS = ("argon", "helium", "neon", "krypton", "xenon")


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


def transmission(slenderness: float) -> float:
    """Share of the molecules that enter a round tube and get through, in molecular flow.

    `slenderness` is length over bore, zero or above. Clausing's tabulated factors; between them,
    and beyond, 1/P less the 3 L/(4 d) of a long tube is taken as straight. Any Knudsen number above
    0.5, which is not checked. Source: Clausing, Ann. Phys. 12 (1932) 961.

    >>> [round(transmission(x), 3) for x in (0, 0.5, 1, 10)]
    [1.0, 0.672, 0.514, 0.109]
    """
    not_negative(length_over_bore=slenderness)
    knots = [(0.0, 1.0), *((x / 2, 1 / p - 0.375 * x) for x, p in _CLAUSING.items())]
    above = next((n for n in range(1, len(knots)) if slenderness <= knots[n][0]), None)
    if above is None:
        extra = knots[-1][1]
    else:
        (x0, low), (x1, high) = knots[above - 1 : above + 1]
        extra = low + (high - low) * (slenderness - x0) / (x1 - x0)
    return 1 / (extra + 0.75 * slenderness)


def choked(gas: Gas, diameter: float, temperature: float = ROOM_TEMPERATURE) -> float:
    """The most in m3/s, of gas at the pressure before it, that a round bore takes: A c.

    Gas reaches the speed of sound in the narrowest place and no pump draws more through it:
    c = sqrt(g R T / M) (2 / (g + 1))^((g + 1) / (2 (g - 1))), g = 5/3 for single atoms, else 1.4.
    Viscous flow. Diameter in m, temperature in K. Source: isentropic flow through a nozzle (Bird,
    Stewart and Lightfoot, Transport Phenomena, 1960).

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(choked(gas_named("air"), 0.01) * 1e3, 1)  # litres a second
    15.6
    """
    above_zero(diameter=diameter, temperature=temperature)
    g = 5 / 3 if gas.name in _SINGLE_ATOMS else 1.4
    sound = math.sqrt(g * GAS_CONSTANT * temperature / gas.molar_mass)
    throat = (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1)))
    return math.pi * diameter**2 / 4 * sound * throat


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

    Knudsen's formula, its molecular part that of an opening with Clausing's factor of a tube of any
    length (`transmission`). SI units, range as `knudsen_long_tube`; `tube_notes` says where it is
    too high, and where the tube may choke. Source: Knudsen, Ann. Phys. 28 (1909) 75; Clausing, Ann.
    Phys. 12 (1932) 961.

    >>> from troubleshoot.physics.gases import gas_named
    >>> round(tube(gas_named("argon"), 0.016, 1.0, 10) * 1e3, 2)  # litres a second
    1.05
    """
    above_zero(diameter=diameter, length=length)
    molecular = orifice(diameter, gas.mean_speed(temperature)) * transmission(length / diameter)
    return _with_molecular_part(molecular, gas, diameter, length, mean_pressure, temperature)


def tube_notes(
    gas: Gas,
    diameter: float,
    length: float,
    mean_pressure: float,
    temperature: float = ROOM_TEMPERATURE,
) -> tuple[str, ...]:
    """What must be said beside `tube`, with its arguments: where it chokes, or is short.

    Source: as `choked`; for short tubes common practice, no source.

    >>> from troubleshoot.physics.gases import gas_named
    >>> tube_notes(gas_named("argon"), 0.016, 1.0, 10)
    ()
    """
    if regime(knudsen(mean_free_path(gas, mean_pressure, temperature), diameter)) == "molecular":
        return ()
    most = choked(gas, diameter, temperature)
    smooth = knudsen_long_tube(gas, diameter, length, mean_pressure, temperature)
    if smooth > most:
        return (
            "That holds for a small difference of pressure only: no pump draws more than "
            f"{most * 1e3:.3g} L/s of gas through (counted at the pressure before it), for there "
            "it reaches the speed of sound and chokes, and a fast flow is turbulent besides.",
        )
    if length >= SHORT_BELOW * diameter:
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
