"""How a number becomes one of the answers of a finding, and when a base pressure is a bad one."""

import numpy as np

from troubleshoot.training.coater import Coater
from troubleshoot.training.observed import Observed

TWICE, CLEARLY = 2.0, 1.5
"""Factors by which a base is "as usual", and by which a change is seen: as the findings say."""


def yes(it_is: bool) -> str:
    return "yes" if it_is else "no"


def banded(value: float, edges: tuple[float, ...], answers: tuple[str, ...]) -> str:
    """The answer in whose band a value lies; a value on an edge belongs to the band above."""
    return answers[int(np.searchsorted(edges, value, side="right"))]


def bad(at: Observed) -> bool:
    """Whether the base is worse than usual."""
    return at.base > TWICE * at.usual_base


def helps(at: Observed, coater: Coater) -> bool:
    """Whether the base is clearly lower with other parts."""
    return at.base_with(coater) * CLEARLY < at.base
