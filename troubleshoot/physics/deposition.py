"""How much metal a run lays down: from the discharge, or from the lab's own calibration."""

import math
from dataclasses import dataclass

from troubleshoot.physics.beam import ELEMENTARY_CHARGE
from troubleshoot.physics.limits import above_zero, within
from troubleshoot.physics.metals import Metal
from troubleshoot.physics.scattering import AVOGADRO
from troubleshoot.physics.sputtering import sputter_yield, volume_per_ion
from troubleshoot.physics.uniformity import disc_share

USUAL_RADIUS, USUAL_DISTANCE, USUAL_VOLTAGE = 28.5e-3, 50e-3, 1000.0
"""m, m, V: where nothing was told; a target of 57 mm, the distance most recipes name, a plain diode
(common practice, no source)."""
ION_ENERGY = (0.3, 0.5, 0.7)
"""Ions arrive with some of the voltage, for they lose energy to the gas in the dark space: low,
middle, high share; judgement, from memory."""
ARRIVES = 0.5
"""Share of the straight-line rate that arrives, a part of the current being electrons and the gas
turning metal back: the geometric mean of two published calibrations of diode coaters (DeNee and
Walker 1975: 1.0 nm/mA/min, 50 mm, taken at 1 kV; common practice, no source: 0.75 nm/mA/min at
2.5 kV), by our formula 0.76 and 0.33."""
UNKNOWN_WITHIN = 2.5
"""Factor either way within which a coater nobody calibrated lies: published rates at like settings
differ fivefold and more (0.42 to 2.5 nm/mA/min)."""
OWN_WITHIN, OTHER_METAL_WITHIN = 1.2, 1.25
"""Factors either way: of a rate that a slip gave (judgement) and of the yields' ratio."""
LOWEST_VOLTAGE, HIGHEST_VOLTAGE = 100.0, 5000.0
"""V: outside it there is no coater's glow to reckon with."""


@dataclass(frozen=True)
class Band:
    """A number with the bounds between which it lies in nine cases of ten (judgement)."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Settings:
    """What a run is made with: voltage in V, distance and radius of the target in m."""

    voltage: float = USUAL_VOLTAGE
    distance: float = USUAL_DISTANCE
    radius: float = USUAL_RADIUS

    def __post_init__(self) -> None:
        within(
            LOWEST_VOLTAGE, HIGHEST_VOLTAGE, "V", "no coater's glow runs there",
            voltage=self.voltage,
        )  # fmt: skip
        above_zero(distance=self.distance, radius=self.radius)


@dataclass(frozen=True)
class Calibration:
    """The lab's own rate: metres of a metal per ampere second, with the settings it was found at.

    `within` is the factor either way to which it is known.
    """

    rate: float
    metal: Metal
    settings: Settings = Settings()
    within: float = OWN_WITHIN


def straight_rate(metal: Metal, current: float, energy: float, at: Settings) -> float:
    """Rate in m/s under the middle of a disc if all current were ions and no gas in the way.

    (I/e) Y F / (pi R^2 n), current in A, ion energy in eV, F as `disc_share`, n atoms in a volume.
    Source: definition of the sputter yield and of the view factor.

    >>> from troubleshoot.physics.metals import metal_named
    >>> rate = straight_rate(metal_named("gold"), 0.010, 1000, Settings())
    >>> round(rate * 60e9, 1)  # nm/min
    20.2
    """
    above_zero(current=current)
    volume = volume_per_ion(metal, energy) / AVOGADRO
    share = disc_share(at.radius, at.distance) / (math.pi * at.radius**2)
    return current / ELEMENTARY_CHARGE * volume * share


def unknown_rate(metal: Metal, at: Settings) -> Band:
    """Metres per ampere second on a coater that nobody calibrated, within a factor of 2.5.

    `straight_rate` at half of the voltage as the ions' energy, times what arrives. Source: the two
    calibrations named at `ARRIVES`; the factor is judgement from how far published rates differ.

    >>> from troubleshoot.physics.metals import metal_named
    >>> band = unknown_rate(metal_named("gold"), Settings())
    >>> [round(r * 60e6, 2) for r in (band.low, band.value, band.high)]  # nm/mA/min
    [0.26, 0.66, 1.65]
    """
    rate = straight_rate(metal, 1.0, ION_ENERGY[1] * at.voltage, at) * ARRIVES
    return _band(rate, UNKNOWN_WITHIN)


def own_rate(own: Calibration, metal: Metal, at: Settings) -> Band:
    """Metres per ampere second scaled from the lab's own calibration to a metal and settings.

    Goes with the volume per ion and the straight-line share of the target that the place sees. The
    factor grows with another metal, and with the change of voltage and distance: the square root of
    what the scaling itself changes. Source: definition of the sputter yield; factors are judgement.

    >>> from troubleshoot.physics.metals import metal_named
    >>> gold = metal_named("gold")
    >>> band = own_rate(Calibration(1e-6, gold), metal_named("platinum"), Settings())
    >>> round(band.value * 1e6, 3), round(band.high / band.value, 2)
    (0.516, 1.33)
    """
    above_zero(rate=own.rate)
    middle = ION_ENERGY[1]
    there, here = own.settings, at
    by_metal = volume_per_ion(metal, middle * there.voltage) / volume_per_ion(
        own.metal, middle * there.voltage
    )
    by_voltage = sputter_yield(metal, middle * here.voltage) / sputter_yield(
        metal, middle * there.voltage
    )
    by_place = _place(here) / _place(there)
    logs = [
        math.log(own.within),
        0.0 if metal == own.metal else math.log(OTHER_METAL_WITHIN),
        math.log(by_voltage) / 2,
        math.log(by_place) / 2,
    ]
    rate = own.rate * by_metal * by_voltage * by_place
    return _band(rate, math.exp(math.hypot(*logs)))


def _place(at: Settings) -> float:
    return disc_share(at.radius, at.distance) / at.radius**2


def _band(value: float, factor: float) -> Band:
    return Band(value, value / factor, value * factor)


def rate_here(own: Calibration | None, metal: Metal, at: Settings) -> Band:
    """Metres per ampere second by the lab's own calibration where there is one, else unknown.

    Source: as `own_rate` and `unknown_rate`.

    >>> from troubleshoot.physics.metals import metal_named
    >>> rate_here(None, metal_named("gold"), Settings()).value > 0
    True
    """
    return unknown_rate(metal, at) if own is None else own_rate(own, metal, at)


def laid_down(rate: Band, current: float, time: float) -> Band:
    """Thickness in m after a time in s at a current in A: rate I t.

    Source: definition of `rate`, metres per ampere second.

    >>> round(laid_down(Band(1e-6, 1e-6, 1e-6), 0.010, 60).value * 1e6, 3)
    0.6
    """
    above_zero(current=current, time=time)
    charge = current * time
    return Band(rate.value * charge, rate.low * charge, rate.high * charge)


def time_needed(rate: Band, thickness: float, current: float) -> Band:
    """Time in s for a thickness in m at a current in A: t / (rate I); a high rate is a short time.

    Source: inverse of `laid_down`.

    >>> round(time_needed(Band(1e-6, 1e-6, 1e-6), 6e-7, 0.010).value)
    60
    """
    above_zero(thickness=thickness, current=current)
    return Band(*(thickness / (r * current) for r in (rate.value, rate.high, rate.low)))


def coat_mass(metal: Metal, thickness: float, area: float) -> float:
    """What a coat weighs in kg: rho t A, of bulk density, thickness in m and area in m2.

    Source: definition of density.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(coat_mass(metal_named("gold"), 1e-9, 1e-4) * 1e9, 2)  # microgram on a cm2
    1.93
    """
    above_zero(thickness=thickness, area=area)
    return metal.density * thickness * area


def weighed_coat(metal: Metal, mass: float, area: float) -> float:
    """Thickness in m of a coat of a mass in kg on an area in m2: m / (rho A).

    Source: inverse of `coat_mass`.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(weighed_coat(metal_named("gold"), 1.93e-9, 1e-4) * 1e9, 3)
    1.0
    """
    above_zero(mass=mass, area=area)
    return mass / (metal.density * area)


def target_loss(metal: Metal, current: float, time: float, voltage: float) -> Band:
    """What a target loses in kg: I t Y M / (e N), current in A, time in s, voltage in V.

    Ions of three to seven tenths of the voltage, all current being ions: an upper bound by as much
    as part of it is electrons. Source: definition of the sputter yield.

    >>> from troubleshoot.physics.metals import metal_named
    >>> round(target_loss(metal_named("gold"), 1e-3, 3600, 2000).value * 1e6)  # mg of 1 mA h
    24
    """
    above_zero(current=current, time=time)
    ions = current * time / ELEMENTARY_CHARGE
    low, middle, high = (
        ions * sputter_yield(metal, share * voltage) * metal.molar_mass / AVOGADRO
        for share in ION_ENERGY
    )
    return Band(middle, low, high)
