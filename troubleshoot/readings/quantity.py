"""A number read off a gauge, a meter or a watch, turned into the answers of a finding.

The reading is taken as log-normal about what was read (a gauge of this kind is wrong by a factor,
not by a constant), and each answer gets the probability that the true value lies in its band.
"""

import itertools
import math

from troubleshoot.errors import UserError
from troubleshoot.knowledge.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.physics import units

LEAST = 1e-3


def read_quantity(finding: Finding, text: str) -> units.Quantity:
    """The quantity in `text`, with its unit. Raises `UserError`."""
    if finding.quantity is None:
        raise UserError(f"this is not a number: answer with one of {', '.join(finding.answers)}.")
    return units.parse(text, finding.quantity.dimension)


def edges(finding: Finding, machine: Machine) -> list[float]:
    """The edges between the answers in SI, scaled to what is usual on this machine.

    An edge that stands for k times the default coater's usual value stands for k times this
    coater's own.
    """
    quantity = finding.quantity
    if quantity is None:
        raise ValueError(f"{finding.id} is not a quantity")
    scale = 1.0
    if quantity.usual and quantity.usual_value and quantity.usual in machine.numbers:
        own = machine.numbers[quantity.usual]
        scale = own / units.parse(f"{quantity.usual_value} {quantity.unit}", quantity.dimension).si
    return [
        units.parse(f"{e} {quantity.unit}", quantity.dimension).si * scale for e in quantity.edges
    ]


def likelihood(finding: Finding, text: str, machine: Machine) -> tuple[float, ...]:
    """P(what was read | answer) up to a factor: the share of the reading in each band.

    No band gets less than 0.1 %: a misprint must not rule anything out.
    """
    quantity = finding.quantity
    value = read_quantity(finding, text).si
    if quantity is None:
        raise ValueError(f"{finding.id} is not a quantity")
    below = [_below(edge, value, quantity.spread) for edge in edges(finding, machine)]
    steps = [0.0, *below, 1.0]
    return tuple(max(b - a, LEAST) for a, b in itertools.pairwise(steps))


def _below(edge: float, value: float, spread: float) -> float:
    """P(true value < edge) for a log-normal reading; a reading of zero lies below every edge."""
    if value <= 0:
        return 1.0
    return 0.5 * (1.0 + math.erf(math.log(edge / value) / (spread * math.sqrt(2.0))))
