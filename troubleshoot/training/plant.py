"""A simulated coater with everything that belongs to it, and one drawn for a profile and a seed."""

from dataclasses import dataclass

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.training.coater import Coater
from troubleshoot.training.draw import sound_coater, usual_gauge
from troubleshoot.training.gauge import Gauge


@dataclass(frozen=True)
class Plant:
    """The parts of one coater, each sound or not."""

    coater: Coater
    gauge: Gauge


def sound_plant(rng: np.random.Generator, machine: Machine | None = None) -> Plant:
    """A plant without a fault, after the profile as far as it says."""
    return Plant(sound_coater(rng, machine), usual_gauge(rng, machine))
