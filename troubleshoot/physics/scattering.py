"""How metal atoms get through the gas: straight on, scattered, or slowed down to drift."""

import math
from typing import Literal

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import BOLTZMANN, ROOM_TEMPERATURE, gas_named
from troubleshoot.physics.limits import above_zero
from troubleshoot.physics.metals import Metal

AVOGADRO = 6.02214076e23
"""1/mol, exact (SI brochure)."""
FROM_TARGET, AT_REST = 20.0, 0.1
"""eV: a sputtered atom's usual energy (Monte Carlo tables: 21 eV of tungsten at 500 eV), and one at
which it only drifts."""

Arrival = Literal["straight", "scattered", "drifting"]


def atom_diameter(metal: Metal) -> float:
    """Distance of neighbours in m in a close-packed metal: (sqrt(2) M / (rho N))^(1/3).

    Source: geometry of a face-centred lattice; within some per cent for the others.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(atom_diameter(metal_named("gold")) * 1e9, 3)
    0.288
    """
    return (math.sqrt(2) * metal.molar_mass / (metal.density * AVOGADRO)) ** (1 / 3)


def atom_path(metal: Metal, pressure: float, temperature: float = ROOM_TEMPERATURE) -> float:
    """Mean free path in m of a metal's atom in argon, at a pressure in Pa and a temperature in K.

    k T / (p pi ((d1 + d2) / 2)^2 sqrt(1 + m / M)), hard spheres, an atom as slow as the gas; within
    30 %. Source: kinetic theory of mixtures (O'Hanlon, A User's Guide to Vacuum Technology).

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(atom_path(metal_named("gold"), 13.33) * 1e3, 2)  # mm at 0.1 Torr
    0.38
    """
    above_zero(pressure=pressure, temperature=temperature)
    argon = gas_named("argon")
    if argon.diameter is None:
        raise UserError("There is no hard-sphere diameter for argon here.")
    cross = math.pi * ((atom_diameter(metal) + argon.diameter) / 2) ** 2
    heavy = math.sqrt(1 + metal.molar_mass / argon.molar_mass)
    return BOLTZMANN * temperature / (pressure * cross * heavy)


def collisions_to_slow(metal: Metal, start: float = FROM_TARGET, end: float = AT_REST) -> float:
    """Collisions with argon that slow an atom from one energy to another, in one unit.

    ln(E0 / E1) / -ln(1 - 2 m M / (m + M)^2): each takes half of the most it can. Source:
    kinematics of hard spheres, as used by Meyer, Schuller and Falco, J. Appl. Phys. 52 (1981) 5803.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(collisions_to_slow(metal_named("gold")))
    16
    """
    above_zero(start=start, end=end)
    m, heavy = gas_named("argon").molar_mass, metal.molar_mass
    loss = 2 * m * heavy / (m + heavy) ** 2
    return math.log(start / end) / -math.log(1 - loss)


def arrival(
    metal: Metal, pressure: float, distance: float, temperature: float = ROOM_TEMPERATURE
) -> Arrival:
    """How most atoms arrive over a distance in m at a pressure in Pa and a temperature in K.

    Straight within one free path, drifting after as many as slow an atom down, scattered between.
    Source: definition by `atom_path` and `collisions_to_slow`.

    >>> from troubleshoot.physics.metals import metal_named
    >>> arrival(metal_named("gold"), 10, 0.05), arrival(metal_named("gold"), 0.3, 0.05)
    ('drifting', 'scattered')
    """
    above_zero(distance=distance)
    paths = distance / atom_path(metal, pressure, temperature)
    if paths <= 1:
        return "straight"
    return "drifting" if paths >= collisions_to_slow(metal) else "scattered"
