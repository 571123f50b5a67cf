"""The charge that a beam leaves in what has no path to earth: its sign, size and time."""

import math
from typing import Literal

from troubleshoot.errors import UserError
from troubleshoot.physics.limits import above_zero, within
from troubleshoot.physics.materials import Crossover, Material

VACUUM_PERMITTIVITY = 8.8541878128e-12
"""F/m (CODATA 2018)."""
LIKELY_E1 = 150.0
"""eV: below it the charge may be negative again where no lower crossover is published; the
handbook's metals have theirs from 50 to 200 eV, polycarbonate at 44 eV."""
EXPONENTS = (1.35, 1.67)
"""Exponents of the range between which universal yield curves differ (Seiler 1983; Lin and Joy,
Surf. Interface Anal. 37 (2005) 895; both from memory)."""
CURVE_WITHIN = 1.4
"""Factor within which the curve finds the crossovers of the handbook's metals."""

Sign = Literal["negative", "positive", "either"]


def crossover_of(material: Material) -> Crossover:
    """The crossover energies of a material; raises `UserError` where none are published here.

    Source: the table in `materials`.

    >>> from troubleshoot.physics.materials import material_named
    >>> crossover_of(material_named("PTFE")).e2
    1820.0
    """
    if material.crossover is None:
        raise UserError(
            f"No crossover energies of {material.name} are known here, and for insulators a "
            "universal curve is wrong several times over: try 0.5 to 3 kV at the microscope."
        )
    return material.crossover


def crossover_bounds(known: Crossover) -> tuple[float, float]:
    """Between which energies in eV the upper crossover lies.

    As published; a metal of which only a lower bound is printed gets its upper one from the
    universal curve, and 40 % on top. Source: as `crossover_of` and `universal_crossover`.

    >>> from troubleshoot.physics.materials import material_named
    >>> [round(e) for e in crossover_bounds(crossover_of(material_named("gold")))]
    [2000, 3983]
    """
    if known.high is not None:
        return known.low, known.high
    if known.peak is None:
        return known.low, math.inf
    curves = (universal_crossover(*known.peak, exponent) for exponent in EXPONENTS)
    return known.low, max(known.low, CURVE_WITHIN * max(curves))


def tilted_crossover(energy: float, tilt: float) -> float:
    """Upper crossover in eV on a face tilted by so many degrees: E2 / cos^2, within 30 %.

    Smooth faces, 0 to 70 degrees; zero and infinity, where there is none, stay. Source: Joy,
    Scanning 11 (1989) 1, from memory.

    >>> round(tilted_crossover(1500, 45))
    3000
    """
    within(0, 70, "deg", "the rule is not tested there", tilt=tilt)
    if energy in (0, math.inf):
        return energy
    above_zero(energy=energy)
    return energy / math.cos(math.radians(tilt)) ** 2


def charge_sign(material: Material, energy: float, tilt: float = 0.0) -> Sign:
    """Sign of the charge that a beam of an energy in eV leaves, on a face tilted by degrees.

    Between the crossovers more electrons leave than arrive: positive; below the lower and above the
    upper: negative; within the bounds of either: could be either. Raises `UserError` as
    `crossover_of`. Source: CRC Handbook of Chemistry and Physics, secondary electron emission.

    >>> from troubleshoot.physics.materials import material_named
    >>> pmma = material_named("PMMA")
    >>> charge_sign(pmma, 15e3), charge_sign(pmma, 600), charge_sign(pmma, 1600)
    ('negative', 'positive', 'either')
    """
    above_zero(beam_energy=energy)
    known = crossover_of(material)
    low, high = (tilted_crossover(bound, tilt) for bound in crossover_bounds(known))
    if energy > high:
        return "negative"
    if known.e1 is not None and energy < 0.7 * known.e1:
        return "negative"
    least = LIKELY_E1 if known.e1 is None else 1.3 * known.e1
    return "positive" if least < energy < low else "either"


def insulator_potential(upper: float, energy: float) -> float:
    """Voltage in V to which a perfect insulator is driven: (E2 - E0) / e, both in eV.

    Where the beam lands slowed down to E2 nothing more is gained. Negative above E2 only; below it
    a positive charge of some volts holds the slow electrons back. Source: Reimer, Scanning Electron
    Microscopy (1998), from memory.

    >>> insulator_potential(1600, 5000)
    -3400.0
    """
    above_zero(upper_crossover=upper, beam_energy=energy)
    return min(0.0, float(upper - energy))


def relaxation_time(resistivity: float, permittivity: float) -> float:
    """Time in s in which a charge in a bulk leaks away to a third: eps0 eps rho.

    Resistivity in ohm m, permittivity relative. Source: Maxwell's relaxation time, textbook.

    >>> round(relaxation_time(1e13, 3))
    266
    """
    above_zero(resistivity=resistivity, permittivity=permittivity)
    return VACUUM_PERMITTIVITY * permittivity * resistivity


def charged_to(current: float, leak: float, capacitance: float, time: float, most: float) -> float:
    """Voltage in V that a patch reaches: I R (1 - exp(-t / R C)), and never above `most`.

    Current taken up in A, leak to earth in ohm, capacitance in F, time in s that the beam feeds it,
    `most` in V as `insulator_potential`. Source: a capacitor with a leak, textbook.

    >>> round(charged_to(1e-9, 1e15, 1e-12, 10e-3, 1e4))
    10
    """
    above_zero(leak=leak, capacitance=capacitance, time=time)
    rise = -math.expm1(-time / (leak * capacitance))
    return min(abs(most), abs(current) * leak * rise)


def universal_yield(energy: float, most: float, peak: float, exponent: float) -> float:
    """Secondary electrons for each of the beam's of an energy in eV, of a metal.

    delta / delta_max = x^(1-n) (1 - exp(-z x^n)) / (1 - exp(-z)), x = E / E_max; z solves
    z = (1 - 1/n) (e^z - 1), so that the peak of height `most` lies at `peak` in eV. Metals only,
    40 % on the crossover. Source: Lin and Joy, Surf. Interface Anal. 37 (2005) 895; Seiler (1983).

    >>> round(universal_yield(600, 1.3, 600, 1.67), 6)
    1.3
    """
    above_zero(energy=energy, most=most, peak=peak)
    z = universal_root(exponent)
    x = energy / peak
    return most * x ** (1 - exponent) * -math.expm1(-z * x**exponent) / -math.expm1(-z)


def universal_root(exponent: float) -> float:
    """The z above zero that solves z = (1 - 1/n) (e^z - 1), by halving; n from 1.1 to 2.

    Source: the peak's condition of `universal_yield`.

    >>> round(universal_root(1.35), 3), round(universal_root(1.67), 3)
    (2.283, 1.614)
    """
    within(1.1, 2.0, "", "ranges go with such powers of the energy", exponent=exponent)
    low, high = 1e-3, 20.0
    for _ in range(80):
        middle = (low + high) / 2
        if (1 - 1 / exponent) * math.expm1(middle) < middle:
            low = middle
        else:
            high = middle
    return low


def universal_crossover(most: float, peak: float, exponent: float) -> float:
    """Upper crossover in eV of a metal from the height and place in eV of its yield's peak.

    Raises `UserError` where the peak does not reach one. Source: as `universal_yield`.

    >>> round(universal_crossover(1.3, 600, 1.35))
    1726
    """
    if most <= 1:
        raise UserError("A yield that stays below one has no crossover.")
    low, high = peak, 1000 * peak
    for _ in range(80):
        middle = math.sqrt(low * high)
        if universal_yield(middle, most, peak, exponent) > 1:
            low = middle
        else:
            high = middle
    return low
