"""A simulated coater with everything that belongs to it, and one drawn for a profile and a seed."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.training.coater import Coater
from troubleshoot.training.draw import sound_coater, usual_gauge
from troubleshoot.training.gauge import Gauge
from troubleshoot.training.glow import Head


@dataclass(frozen=True)
class Recipe:
    """What the operator sets, each beside what the recipe says: pressure, time and distance as
    factors, `demand` of the current's control; `offset` m of the specimen from the middle;
    `flushed`: the chamber was flushed with argon before; `grounded`: the top of the specimen has a
    conducting path to the stub; `misread`: the recipe's number is of another gauge, gas or unit, as
    a factor; `tilt` rad of the stage; `shutter`: it opens."""

    pressure: float = 1.0
    demand: float = 1.0
    seconds: float = 1.0
    distance: float = 1.0
    offset: float = 0.0
    flushed: bool = True
    grounded: bool = True
    misread: float = 1.0
    tilt: float = 0.0
    shutter: bool = True


@dataclass(frozen=True)
class Plant:
    """The parts of one coater, each sound or not, and how it is run.

    `load_gives`: what walls and rubber give off beyond the sound plant sits on the stage.
    `vent_open`, `ballast_open`: a knob that was left open. `seen`: what a lamp shows on a part that
    is not sound, finding -> answer.
    """

    coater: Coater
    gauge: Gauge
    head: Head = field(default_factory=Head)
    recipe: Recipe = field(default_factory=Recipe)
    load_gives: bool = False
    vent_open: bool = False
    ballast_open: bool = False
    seen: Mapping[str, str] = field(default_factory=dict)


def sound_plant(rng: np.random.Generator, machine: Machine | None = None) -> Plant:
    """A plant without a fault, after the profile as far as it says."""
    told = machine.numbers if machine is not None else {}
    base = Head()
    head = replace(
        base,
        sound=told.get("usual_current", base.sound),
        pressure=told.get("usual_pressure", base.pressure / 1.7) * 1.7,
        gap=told.get("distance", base.gap),
        radius=told.get("target_radius", base.radius),
    )
    return Plant(sound_coater(rng, machine), usual_gauge(rng, machine), head)
