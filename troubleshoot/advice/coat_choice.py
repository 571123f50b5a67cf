"""Which metal, how thick and how often, for a specimen, a magnification and a beam, in numbers."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import RuleBase, Specimen
from troubleshoot.physics.charging import charge_sign, crossover_bounds
from troubleshoot.physics.deposition import (
    Band,
    Calibration,
    Settings,
    rate_here,
    time_needed,
)
from troubleshoot.physics.film_growth import joined_from
from troubleshoot.physics.limits import within
from troubleshoot.physics.materials import material_named
from troubleshoot.physics.metals import Metal, metal_named

Fit = Literal["fits", "shows", "hides"]

EYE = 0.2e-3
"""m on a print that an eye tells apart (computation useful_magnification)."""
RELIEF = {"smooth": 1.0, "rough": 1.5, "undercut": 2.0}
"""By how much thicker than one that just joins on a flat face: judgement; 15 to 30 nm of gold on
rough and 5 to 10 on smooth ones (Echlin, Handbook of Sample Preparation, 2009, from memory)."""
RUNS = {"smooth": 1, "rough": 2, "undercut": 4}
"""Runs from different sides on a stage that does not turn; on one that turns and tilts, half."""
USUAL_ORDER = (
    "gold", "gold_palladium", "platinum", "platinum_palladium", "iridium", "chromium",
)  # fmt: skip
"""From the easiest to the finest."""
NEEDS_NONE = 2000.0
"""eV: at and below it most insulators are looked at bare (Echlin 2009, from memory; polymers'
crossovers lie below it)."""
FARTHER = 1.4
"""How much farther off a soft specimen is put."""
FARTHEST = 100e-3
BURST = 30.0
"""s: a soft specimen's longest run without a rest: judgement."""
USUAL_CURRENT = 10e-3


@dataclass(frozen=True)
class Wish:
    """What is planned: the specimen, the magnification, the beam in eV, and what is to coat it.

    `metal` is one that must be taken; without it the coater's target, or any. `own`: the lab's
    rate; `current` in A, `at` as it would be run. `irreplaceable`: the specimen has no second.
    """

    specimen: Specimen
    magnification: float
    beam: float
    machine: Machine
    at: Settings
    current: float = USUAL_CURRENT
    metal: Metal | None = None
    own: Calibration | None = None
    irreplaceable: bool = False

    def __post_init__(self) -> None:
        within(5, 2e6, "times", "no microscope of this kind", magnification=self.magnification)
        within(100, 60e3, "eV", "no scanning microscope runs there", beam_energy=self.beam)
        within(1e-4, 0.5, "A", "no bench-top coater runs there", current=self.current)

    @property
    def detail(self) -> float:
        """The smallest thing in m that is seen at this magnification."""
        return EYE / self.magnification


@dataclass(frozen=True)
class Coating:
    """A coat that is proposed: thickness in m on a flat face, `time` in s in all, in `runs` of
    as many `bursts` each.

    `fit`: whether its grain and thickness stay below what is seen. `target`: its ID as a target.
    """

    target: str
    metal: Metal
    thickness: float
    fit: Fit
    time: Band
    at: Settings
    runs: int
    bursts: int


def fit_of(metal: Metal, detail: float) -> Fit:
    """Whether a coat of a metal stays below what is seen, shows, or hides it; detail in m."""
    fine, coarse = metal.growth.grain
    if coarse <= detail and joined_from(metal) <= detail:
        return "fits"
    return "shows" if fine <= detail else "hides"


def thickness_for(metal: Metal, specimen: Specimen) -> float:
    """Thickness in m: what joins on a flat face, and more where faces are shaded."""
    return joined_from(metal) * RELIEF[specimen.relief]


def targets(rules: RuleBase, wish: Wish) -> Mapping[str, Metal]:
    """The metals that may be proposed by the ID of their target, the easiest first.

    One that asks something of the coater only where the coater is known to have it.
    """
    if wish.metal is not None:
        key = wish.metal.name.replace("-", "_")
        return {key: wish.metal}
    order = [key for key in USUAL_ORDER if key in rules.coats]
    return {
        key: metal_named(key)
        for key in order
        if all(
            wish.machine.facts.get(k) == wanted for k, wanted in rules.coats[key].machine.items()
        )
    }


def coating(rules: RuleBase, wish: Wish) -> Coating:
    """The coat to propose: the metal in the head unless it hides what is to be seen.

    Else the easiest that fits, or the finest there is.
    """
    offered = dict(targets(rules, wish))
    head = wish.machine.facts.get("target", "other")
    if wish.metal is None and head != "other":
        offered = {head: metal_named(head), **offered}
    fits = {key: fit_of(metal, wish.detail) for key, metal in offered.items()}
    wanted: tuple[Fit, ...] = ("fits", "shows")
    first = [key for key in list(offered)[:1] if head == key and fits[key] != "hides"]
    by_fit = [key for fit in wanted for key in offered if fits[key] == fit]
    finest = min(offered, key=lambda key: offered[key].growth.grain[1])
    target = [*first, *by_fit, finest][0]
    return _coating(target, offered[target], fits[target], wish)


def finer(rules: RuleBase, wish: Wish) -> str | None:
    """The name of the easiest metal of all that would fit, whatever this coater has."""
    order = [key for key in USUAL_ORDER if key in rules.coats]
    fits = (key for key in order if fit_of(metal_named(key), wish.detail) == "fits")
    return next((rules.coats[key].name for key in fits), None)


def _coating(target: str, metal: Metal, fit: Fit, wish: Wish) -> Coating:
    at, specimen = wish.at, wish.specimen
    soft = specimen.heat == "soft"
    if soft:
        at = Settings(at.voltage, min(FARTHER * at.distance, max(FARTHEST, at.distance)), at.radius)
    thickness = thickness_for(metal, specimen)
    if wish.beam <= NEEDS_NONE:
        thickness = joined_from(metal)
    time = time_needed(rate_here(wish.own, metal, at), thickness, wish.current)
    runs = RUNS[specimen.relief]
    if wish.machine.facts.get("rotation") == "yes":
        runs = max(1, runs // 2)
    bursts = math.ceil(time.value / runs / BURST) if soft else 1
    return Coating(target, metal, thickness, fit, time, at, runs, bursts)


@dataclass(frozen=True)
class Bare:
    """Looking without a coat: beam energies in eV from and to, and whether the wished one does."""

    low: float
    high: float
    now: bool


def bare(wish: Wish) -> Bare | None:
    """Without a coat near the upper crossover of the specimen's material; None if not known."""
    material = material_named(wish.specimen.material)
    if material.crossover is None:
        return None
    low, high = crossover_bounds(material.crossover)
    low = max(low, 300.0)
    now = wish.beam <= high and charge_sign(material, wish.beam) != "negative"
    return Bare(low, high, now)
