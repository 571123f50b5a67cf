"""A number read off a gauge, a meter or a watch, turned into the answers of a finding.

The reading is taken as log-normal about what was read (a gauge of this kind is wrong by a factor,
not by a constant), and each answer gets the probability that the true value lies in its band.
"""

import itertools
import math
import re

from troubleshoot import units
from troubleshoot.coater.machine import DERIVED, Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding, Quantity

LEAST = 1e-3
LEAST_OWN = 1 / 3
"""A very tight coater's rise may grow several times over and still bring too little gas to matter:
judgement."""


def read_quantity(finding: Finding, text: str) -> units.Quantity:
    """The quantity in `text`, with its unit. Raises `UserError`."""
    if finding.quantity is None:
        raise UserError(f"this is not a number: answer with one of {', '.join(finding.answers)}.")
    return units.parse(text, finding.quantity.dimension)


def edges(finding: Finding, machine: Machine) -> list[float]:
    """The edges between the answers in SI, scaled to what is usual on this machine.

    An edge that stands for k times the default coater's usual value stands for k times this
    coater's own. Where a second number of the machine can scale them too (a rise: by how fast the
    pump empties the chamber, which says what gas would hold up the base), the first one lowers them
    no further than to `LEAST_OWN` of what the second one gives.
    """
    quantity = finding.quantity
    if quantity is None:
        raise ValueError(f"{finding.id} is not a quantity")
    own = _ratio(quantity, quantity.usual, quantity.usual_value, machine)
    scale = _ratio(quantity, quantity.instead, quantity.instead_value, machine) or 1.0
    if own is not None:
        scale = max(own, LEAST_OWN * scale) if quantity.instead else own
    return [
        units.parse(f"{e} {quantity.unit}", quantity.dimension).si * scale for e in quantity.edges
    ]


def _ratio(
    quantity: Quantity, name: str | None, value: float | None, machine: Machine
) -> float | None:
    """This machine's number over the default coater's; None where it is not known."""
    own = machine.number(name) if name else None
    if own is None or name is None or not value:
        return None
    if name in DERIVED:
        return own / value
    return own / units.parse(f"{value} {quantity.unit}", quantity.dimension).si


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


def answer_text(finding: Finding, answer: str, machine: Machine) -> str:
    """The text of an answer, a band in brackets at its end given for this coater.

    The rule base writes bands for a coater of which nothing is known; where `machine` has its own
    usual value or gauge unit they would mislead.
    """
    text = finding.answers[answer]
    unit = unit_of(finding, machine)
    bare = re.sub(r"\s*\([^()]*\d[^()]*\)$", "", text)
    if unit is None or bare == text:
        return text
    here = list(finding.answers).index(answer)
    marks = [_figures(units.from_si(e, unit, _dimension(finding))) for e in edges(finding, machine)]
    if here == 0:
        return f"{bare} (up to {marks[0]} {unit})"
    if here == len(marks):
        return f"{bare} (above {marks[-1]} {unit})"
    return f"{bare} ({marks[here - 1]} to {marks[here]} {unit})"


def _figures(value: float) -> str:
    """A band's edge to two figures: more would be false precision."""
    return units.format_number(float(f"{value:.2g}"))


def _dimension(finding: Finding) -> str:
    assert finding.quantity is not None
    return finding.quantity.dimension


def unit_of(finding: Finding, machine: Machine) -> str | None:
    """The unit of a reading: pressures as this gauge shows them, so that nobody converts."""
    if finding.quantity is None:
        return None
    by_gauge = {"pressure": machine.gauge_unit, "pressure rate": f"{machine.gauge_unit}/min"}
    return by_gauge.get(finding.quantity.dimension, finding.quantity.unit)
