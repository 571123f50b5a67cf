"""What is drawn beside a lesson: curves of the simulated coater, a table, pictures of the rules.

Seeds are fixed, so that a figure is the same each time.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from troubleshoot import units
from troubleshoot.knowledge.model import Figure, RuleBase
from troubleshoot.physics.film_growth import film_state, joined_chance
from troubleshoot.physics.film_resistance import sheet_resistance
from troubleshoot.physics.metals import metal_named
from troubleshoot.training.faults.vacuum import VACUUM
from troubleshoot.training.gauge import Gauge, readings
from troubleshoot.training.micrograph import Bytes
from troubleshoot.training.plant import sound_plant
from troubleshoot.training.run import Stage, simulate

SEED = 1
PUMPED, SHUT, EVERY = 600.0, 900.0, 20.0
"""s at the pump before the valve is shut, s of the rise, s between readings."""
FROM, RISEN = 60.0, 300.0
"""s of the pump-down and of the rise that are drawn on the page of a cause."""
RISES = (
    ("seal_dirty", "leak, straight"),
    ("chamber_damp", "vapour, bends"),
    ("virtual_leak", "pocket, tires"),
    ("pump_worn", "worn pump, hardly rises"),
)
GOLD = (2.0, 5.0, 12.0, 20.0, 40.0)
"""Thickness in nm of the slips of the table."""
PICTURES = {
    "charging_pictures": {
        "made_bands.png": "bands along the scan lines",
        "made_flare.png": "white flares",
        "made_jumps.png": "rows that jump",
        "made_dark_centre.png": "a dark middle with a tail",
    },
    "look_alike_pictures": {
        "made_teeth.png": "teeth on edges: vibration or a field",
        "made_square.png": "a dark square that stays: dirt",
        "made_bright_edges.png": "bright edges: geometry",
        "made_noise.png": "noise: too little signal",
    },
}


@dataclass(frozen=True)
class Curve:
    """A row of readings: s since it began, and what the gauge or the meter shows, in `unit`."""

    name: str
    seconds: tuple[float, ...]
    values: tuple[float, ...]
    unit: str = "mbar"


@dataclass(frozen=True)
class Curves:
    """Curves on common axes; `sound`: of the same coater without a fault, one beside each."""

    title: str
    curves: tuple[Curve, ...]
    sound: tuple[Curve, ...] = ()


@dataclass(frozen=True)
class Table:
    """Rows under a head."""

    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Pictures:
    """Pictures of the rules, by file name, with what they show."""

    title: str
    pictures: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Micrograph:
    """A made micrograph: grey pixels of 8 bit."""

    title: str
    pixels: Bytes


def figure(name: Figure, rules: RuleBase) -> Curves | Table | Pictures:
    """The figure of that name."""
    if name == "rise_curves":
        return rise_curves()
    if name == "gold_by_thickness":
        return gold_by_thickness(rules)
    return made_pictures(name)


@cache
def rise_curves() -> Curves:
    """Four rises on one simulated coater, after ten minutes at the pump."""
    return Curves(
        "The pump shut off after ten minutes, for a quarter of an hour (simulated)",
        tuple(_rise(cause, name) for cause, name in RISES),
    )


@cache
def on_the_gauge(cause: str) -> Curves | None:
    """How a cause shows on the gauge: pump-down and rise; None where it cannot be simulated.

    One draw of it, on one simulated coater, beside the same coater without it.
    """
    if cause not in VACUUM:
        return None
    return Curves("On the gauge (simulated)", _fall_and_rise(cause), _fall_and_rise(None))


@cache
def _fall_and_rise(cause: str | None) -> tuple[Curve, ...]:
    rng = np.random.default_rng(SEED)
    plant = sound_plant(rng)
    if cause is not None:
        plant = VACUUM[cause](plant, rng)
    run = simulate(plant.coater, [Stage("pump", PUMPED), Stage("shut", RISEN)])
    plain = Gauge(heat_loss=False, noise=0.0, digits=4)
    t, pascal = readings(plain, run, EVERY, rng)
    mbar = pascal / units.to_si(1, "mbar", "pressure")
    parts = (
        ("pump-down, from the second minute on", FROM, PUMPED),
        ("rise, valve shut", PUMPED, None),
    )
    return tuple(
        Curve(name, tuple((t[chosen] - start).tolist()), tuple(mbar[chosen].tolist()))
        for name, start, end in parts
        for chosen in [(t >= start) & ((t <= end) if end else True)]
    )


def _rise(cause: str, name: str) -> Curve:
    rng = np.random.default_rng(SEED)
    plant = VACUUM[cause](sound_plant(rng), rng)
    run = simulate(plant.coater, [Stage("pump", PUMPED), Stage("shut", SHUT)])
    plain = Gauge(heat_loss=False, noise=0.0, digits=4)
    t, pascal = readings(plain, run, EVERY, rng, first=PUMPED)
    mbar = pascal / units.to_si(1, "mbar", "pressure")
    half = len(mbar) // 2
    bend = (mbar[-1] - mbar[half]) / (mbar[half] - mbar[0])
    words = f"{name}: 2nd half {round(100 * bend)} % of the 1st"
    return Curve(words, tuple((t - PUMPED).tolist()), tuple(mbar.tolist()))


def gold_by_thickness(rules: RuleBase) -> Table:
    """Gold on a glass slip: how it looks (from the rules), whether it is joined, its resistance."""
    gold, rows = metal_named("gold"), []
    witness = rules.coats["gold"].witness if "gold" in rules.coats else []
    for nm in GOLD:
        metres = nm * 1e-9
        joined = film_state(gold, metres) == "joined"
        looks = [look.looks for look in witness if look.above <= nm]
        chance = round(100 * joined_chance(gold, metres))
        ohm = units.format_number(sheet_resistance(gold, metres)) if joined else "open or wandering"
        rows.append((f"{nm:g}", f"{chance} in 100", ohm, looks[-1] if looks else ""))
    head = ("nm", "joined", "ohm a square", "on a glass slip")
    return Table("Gold by its thickness", head, tuple(rows))


def made_pictures(name: str) -> Pictures:
    """Made pictures of one scene, each with one thing wrong."""
    title = "Charging" if name == "charging_pictures" else "What looks like charging and is none"
    return Pictures(title, tuple(PICTURES[name].items()))
