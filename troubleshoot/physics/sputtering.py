"""Atoms that an argon ion knocks out of a target."""

import math

from troubleshoot.errors import UserError
from troubleshoot.physics.gases import gas_named
from troubleshoot.physics.limits import within
from troubleshoot.physics.metals import Metal, metal_named

ARGON = 18
HIGHEST = 100e3
"""eV: beyond it the fit is not compared with measurements."""
SPREAD = 0.25
"""Published yields differ by about so much from the fit: 0.445 to 0.562 atoms an ion for tungsten
at 500 eV (Eckstein 2007; Monte Carlo tables), and 7 to 25 % for seven metals against Laegreid and
Wehner, J. Appl. Phys. 32 (1961) 365."""
REFERENCE = 500.0
"""eV at which metals are compared."""


def threshold(metal: Metal) -> float:
    """Energy in eV below which an argon ion knocks no atom out of a metal; of an alloy the lowest.

    M1 <= M2: Us (1 + 5.7 M1/M2) / gamma, else 6.7 Us / gamma, gamma = 4 M1 M2 / (M1 + M2)^2.
    Source: Yamamura and Tawara, At. Data Nucl. Data Tables 62 (1996) 149.

    >>> round(threshold(metal_named("gold")), 1)
    14.6
    """
    if metal.parts:
        return min(threshold(metal_named(part)) for part in metal.parts)
    assert metal.sputtered is not None
    m1, m2 = gas_named("argon").molar_mass, metal.molar_mass
    gamma = 4 * m1 * m2 / (m1 + m2) ** 2
    factor = 1 + 5.7 * m1 / m2 if m1 <= m2 else 6.7
    return metal.sputtered.binding * factor / gamma


def sputter_yield(metal: Metal, energy: float) -> float:
    """Atoms that an argon ion of an energy in eV knocks out of a clean metal, normal incidence.

    0.042 Q alpha / Us Sn / (1 + Gamma k eps^0.3) (1 - sqrt(Eth / E))^s, from the threshold to
    100 keV, zero below; within about a quarter. Of an alloy the mean by atoms, which a used target
    comes near to. Raises `UserError` beyond 100 keV. Source: Yamamura and Tawara, At. Data Nucl.
    Data Tables 62 (1996) 149, equations 4 and 15 to 22, with ln(eps + 2.718) in the stopping.

    >>> round(sputter_yield(metal_named("gold"), 1000), 3)
    3.315
    """
    within(0, HIGHEST, "eV", "the yields are fitted up to there only", ion_energy=energy)
    if metal.parts:
        return sum(n * sputter_yield(metal_named(part), energy) for part, n in metal.parts.items())
    fit = metal.sputtered
    if fit is None:
        raise UserError(f"There is no sputter yield for {metal.name} here.")
    least = threshold(metal)
    if energy <= least:
        return 0.0
    m1, m2 = (1e3 * m for m in (gas_named("argon").molar_mass, metal.molar_mass))
    z1, z2 = ARGON, metal.number
    screen = z1 ** (2 / 3) + z2 ** (2 / 3)
    reduced = 0.03255 * energy * m2 / (m1 + m2) / (z1 * z2 * math.sqrt(screen))
    root = math.sqrt(reduced)
    shape = 3.441 * root * math.log(reduced + 2.718)
    shape /= 1 + 6.355 * root + reduced * (6.882 * root - 1.708)
    stopping = 84.78 * z1 * z2 / math.sqrt(screen) * m1 / (m1 + m2) * shape
    electronic = 0.079 * (m1 + m2) ** 1.5 / (m1**1.5 * m2**0.5)
    electronic *= z1 ** (2 / 3) * z2**0.5 / screen**0.75
    heavy = m2 / m1
    if m1 <= m2:
        alpha = 0.249 * heavy**0.56 + 0.0035 * heavy**1.5
    else:
        alpha = 0.0875 * heavy**-0.15 + 0.165 * heavy
    loss = 1 + fit.w / (1 + (m1 / 7) ** 3) * electronic * reduced**0.3
    return (
        0.042 * fit.q * alpha / fit.binding * stopping / loss
        * (1 - math.sqrt(least / energy)) ** fit.s
    )  # fmt: skip


def volume_per_ion(metal: Metal, energy: float) -> float:
    """Volume of bulk metal in m3 times Avogadro's number that an ion of an energy in eV sets free.

    Y M / rho: by it rates of metals compare. Source: definition of the sputter yield.

    >>> round(volume_per_ion(metal_named("gold"), 1000) * 1e6, 2)  # cm3/mol
    33.83
    """
    return sputter_yield(metal, energy) * metal.molar_mass / metal.density


def relative_rate(metal: Metal, reference: Metal, energy: float = REFERENCE) -> float:
    """How fast a coat grows against one of a reference metal: (Y M / rho) / (Y0 M0 / rho0).

    Same coater, current, gas and distance, clean targets, ions of an energy in eV; within about a
    quarter. Source: definition of the sputter yield, atoms per ion.

    >>> round(relative_rate(metal_named("platinum"), metal_named("gold")), 2)
    0.52
    """
    return volume_per_ion(metal, energy) / volume_per_ion(reference, energy)
