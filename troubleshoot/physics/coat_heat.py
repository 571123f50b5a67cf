"""What the arriving metal does to the temperature of a specimen."""

from troubleshoot.physics.beam import ELEMENTARY_CHARGE
from troubleshoot.physics.gases import ROOM_TEMPERATURE
from troubleshoot.physics.limits import above_zero, fraction, not_negative, within
from troubleshoot.physics.metals import Metal
from troubleshoot.physics.scattering import AVOGADRO

ENERGY_AN_ATOM = (20.0, 200.0)
"""eV a deposited atom brings with all that comes beside it, in a simple diode: low and high. From
18 eV to about 1000 eV were measured in argon, rising with pressure (Drusedau et al. 1999,
abstract); the range taken here is judgement."""
EMISSIVITY = 0.9
FASTEST = 1e-7
"""m/s."""
STEFAN = 5.670374419e-8
"""W/(m2 K4) (CODATA 2018)."""


def heat_flux(metal: Metal, rate: float, energy: float) -> float:
    """Heat in W/m2 that a coat brings that grows at a rate in m/s, at an energy in eV an atom.

    rate n E, n atoms in a volume of the bulk; up to 100 nm/s, beyond it raises `UserError`. Source:
    balance of energy.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(heat_flux(metal_named("gold"), 10e-9 / 60, 100))  # 10 nm/min
    158
    """
    above_zero(rate=rate, energy=energy)
    within(0, FASTEST, "m/s", "no coater is as fast", rate=rate)
    atoms = metal.density / metal.molar_mass * AVOGADRO
    return rate * atoms * energy * ELEMENTARY_CHARGE


def radiative_rise(
    flux: float, temperature: float = ROOM_TEMPERATURE, emissivity: float = EMISSIVITY
) -> float:
    """Rise in K of a face that loses a heat in W/m2 by radiation alone, around a temperature in K.

    (q / (eps sigma) + T0^4)^(1/4) - T0: what an isolated specimen comes to after minutes, the most
    it can get; one that lies on metal stays cooler. Source: law of Stefan and Boltzmann.

    >>> round(radiative_rise(158))
    27
    """
    not_negative(flux=flux)
    above_zero(temperature=temperature, emissivity=emissivity)
    fraction(emissivity=emissivity)
    return (flux / (emissivity * STEFAN) + temperature**4) ** 0.25 - temperature
