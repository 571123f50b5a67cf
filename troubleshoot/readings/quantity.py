"""A number read off a gauge, a meter or a watch, turned into the answers of a finding.

The reading is taken as log-normal about what was read (a gauge of this kind is wrong by a factor,
not by a constant), and each answer gets the probability that the true value lies in its band. Of a
range, every value in it is as likely as any other (on the scale of logarithms). A bound says only
on which side of it the value lies: all answers that it leaves room for stay as likely. A pressure
that is shown below zero is such a bound, as far above zero.
"""

import itertools
import math
import re
from contextlib import suppress
from dataclasses import dataclass, replace

from troubleshoot import units
from troubleshoot.coater.machine import DERIVED, Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Bands, Finding
from troubleshoot.numerals import tidied

LEAST = 1e-3
LEAST_OWN = 1 / 3
"""A very tight coater's rise may grow several times over and still bring too little gas to matter:
judgement."""
ABOUT = 2.0
"""What is said to be "about" so much is known half as well as a reading: judgement."""
MOST_BELOW_ZERO = 1000.0
"""Pa; 1 % of the atmosphere, the most that a gauge's zero drifts by: judgement. What lies further
down counts from the atmosphere."""
SHARE_TOLD = 0.2
"""An answer is named beside the likeliest from this share of its likelihood on: judgement."""
ROOM = 0.501
"""A bound leaves room for an answer where this is likelier than not; one that lies at the very edge
of a band leaves none."""

_ABOUT = re.compile(
    r"(?:(?:about|around|roughly|approximately|circa|approx\.?|ca\.) |[~≈]) *", re.I
)
_BELOW = re.compile(
    r"(?:(?:below|under|up to|at most|not? more than|(?:less|lower|shorter) than)\b|<=?|≤) *", re.I
)
_ABOVE = re.compile(
    r"(?:(?:above|over|at least|not? less than|(?:more|higher|longer) than)\b|>=?|≥) *", re.I
)
# The minus of 1e-3 divides no range.
_RANGE = re.compile(
    r"(?:(?:between|from) )?(?P<low>.*?[0-9a-z.)]) *"
    r"(?:\b(?:to|and|or)\b|(?P<dash>(?<![0-9.]e)-|[–—…]|\.\.\.?)) *(?P<high>[-+0-9.].*)",
    re.I,
)
_GIVE_OR_TAKE = re.compile(r"(?P<value>.*?) *(?:±|\+/-|\+-) *(?P<off>[0-9].*)")
_POWERED = re.compile(r"[-+0-9.,]+e[-+]?[0-9]", re.I)
_BARE = re.compile(r"[-+0-9.,eE ]*[0-9]")
_SHARED_UNIT = re.compile(r"[-+0-9.,]+(?:e[-+]?[0-9]+)? *([^0-9:]+)", re.I)


@dataclass(frozen=True)
class Stated:
    """What was typed for a quantity, in SI: a value (`low` = `high`), a range or a bound.

    A bound has minus infinity for `low` or infinity for `high`. `wider` multiplies the spread of a
    reading. `notes` say what was taken for granted, a sentence each.
    """

    low: float
    high: float
    wider: float = 1.0
    notes: tuple[str, ...] = ()

    @property
    def is_number(self) -> bool:
        """Whether one number was given."""
        return self.low == self.high

    @property
    def is_bound(self) -> bool:
        """Whether only one end is known."""
        return math.isinf(self.low) or math.isinf(self.high)

    def shown(self, unit: str, dimension: str) -> str:
        """It in another unit: `27 Pa`, `8 to 9.33 Pa`, `below 13.3 Pa`."""
        if math.isinf(self.low):
            return f"below {units.format_in(self.high, unit, dimension)}"
        if math.isinf(self.high):
            return f"above {units.format_in(self.low, unit, dimension)}"
        high = units.format_in(self.high, unit, dimension)
        low = units.format_number(units.from_si(self.low, unit, dimension))
        return high if high == f"{low} {unit}" else f"{low} to {high}"


def read_quantity(finding: Finding, text: str) -> Stated:
    """What `text` says: a number with its unit, `60 to 70 mTorr`, `below 0.1 Torr`, `about 5 min`.

    Raises `UserError` where it says nothing of the kind.
    """
    if finding.quantity is None:
        raise UserError(f"this is not a number: answer with one of {', '.join(finding.answers)}.")
    dimension = finding.quantity.dimension
    units.check_length(text, dimension)
    said = " ".join(tidied(text).split())
    below, above = _BELOW.match(said), _ABOVE.match(said)
    start = below or above
    said = said[start.end() :] if start else said
    if not said:
        raise UserError(
            f"{text!r} needs its number, the end of the scale if the gauge shows no more: write "
            f"{text.strip()} 1000 {finding.quantity.unit} or the like."
        )
    about = _ABOUT.match(said)
    said = said[about.end() :] if about else said
    either_way = _GIVE_OR_TAKE.fullmatch(said)
    try:
        ends = _around(either_way, dimension) if either_way else [_number(said, dimension)]
    except UserError:
        both = _RANGE.fullmatch(said)
        if start or either_way or both is None:
            raise
        ends = _ends(both, text, dimension)
    low, high = ends[0].si, ends[-1].si
    if below or (low <= 0 < high):
        low = -math.inf
    if above:
        high = math.inf
    if dimension == "pressure" and high < 0:
        # The zero is off by as much at least: what lies below that cannot be told.
        low, high = -math.inf, -low if math.isfinite(low) else -high
    return Stated(low, high, ABOUT if about else 1.0, _notes(said, dimension, ends))


def in_gauge_unit(finding: Finding, text: str, gauge_unit: str | None) -> str:
    """What was typed as it is kept: a pressure without a unit gets the gauge's.

    A rise gets it a minute, as it is asked for. `gauge_unit` is None where it was never told.
    Raises `UserError` as `read_quantity` does.
    """
    try:
        read_quantity(finding, text)
    except UserError:
        dimension = finding.quantity.dimension if finding.quantity else ""
        over = {"pressure": "", "pressure rate": "/min"}.get(dimension)
        if finding.quantity and over is None and _BARE.fullmatch(text):
            raise UserError(
                f"{text!r} has no unit: write for instance {text} {finding.quantity.unit}."
            ) from None
        if gauge_unit is None or over is None or not text[-1:].isdigit():
            raise
    else:
        return text
    whole = f"{text} {gauge_unit}{over}"
    read_quantity(finding, whole)
    return whole


def _number(text: str, dimension: str, unit: str | None = None) -> units.Quantity:
    """One number; a pressure where a rate is asked for is the rise in one minute."""
    if dimension == "pressure rate" and "/" not in f"{text}{unit}":
        whole = text if _SHARED_UNIT.fullmatch(text) else f"{text} {unit}"
        with suppress(UserError):
            return units.parse(f"{whole}/min", dimension)
    found = units.parse(text, dimension, default_unit=unit, signed=True)
    if dimension == "pressure" and found.si < -MOST_BELOW_ZERO:
        raise UserError(
            f"{text!r} is negative, and more than a gauge's zero drifts by: if it counts from the "
            "atmosphere, write so, such as -0.9 barg, -13 psig or -27 inHg gauge."
        )
    return found


def _around(either_way: re.Match[str], dimension: str) -> list[units.Quantity]:
    """The two ends of `0.05 ± 0.01 mbar`; a unit given once serves both."""
    value, off = either_way["value"], either_way["off"]
    given = {piece: _SHARED_UNIT.fullmatch(piece) for piece in (value, off)}
    shared = next((m[1].strip() for m in (given[off], given[value]) if m), None)
    middle, wide = _number(value, dimension, shared), _number(off, dimension, shared)
    if units.counts_from_air(middle.unit) or units.counts_from_air(wide.unit):
        raise UserError(f"{either_way[0]!r} counts from the atmosphere: write its two ends.")
    low = middle.si - wide.si if middle.si < 0 else max(middle.si - wide.si, 0.0)
    return [replace(middle, si=low), replace(middle, si=middle.si + wide.si)]


def _ends(both: re.Match[str], text: str, dimension: str) -> list[units.Quantity]:
    """The two ends of a range, the lower one first; a unit given once serves both."""
    low, high = both["low"], both["high"]
    given = {piece: _SHARED_UNIT.fullmatch(piece) for piece in (low, high)}
    shared = next((m[1].strip() for m in (given[high], given[low]) if m), None)
    ends = [_number(piece, dimension, shared) for piece in (low, high)]
    if both["dash"] and ends[0].si > ends[1].si:
        raise UserError(
            f"{text!r} can be read two ways: write the smaller number of a range first, or a power "
            "of ten such as 1e-3."
        )
    if ends[0].si > ends[1].si and _POWERED.match(high) and not _POWERED.match(low):
        raise UserError(
            f"{text!r} can be read two ways: write the power of ten at both ends of a range, or "
            "the smaller number first."
        )
    return sorted(ends, key=lambda q: q.si)


def _notes(said: str, dimension: str, ends: list[units.Quantity]) -> tuple[str, ...]:
    notes = []
    if dimension == "pressure rate" and "/" not in said:
        notes.append("Taken as the rise in one minute.")
    if any(units.counts_from_air(q.unit) for q in ends):
        notes.append("That counts from the atmosphere: 1 atm (101325 Pa) is added.")
    if dimension == "pressure" and any(q.si < 0 for q in ends):
        notes.append("A true pressure cannot be negative: look at the gauge's zero.")
    return tuple(notes)


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
    quantity: Bands, name: str | None, value: float | None, machine: Machine
) -> float | None:
    """This machine's number over the default coater's; None where it is not known."""
    own = machine.number(name) if name else None
    if own is None or name is None or not value:
        return None
    if name in DERIVED:
        return own / value
    return own / units.parse(f"{value} {quantity.unit}", quantity.dimension).si


def yardstick(finding: Finding, machine: Machine) -> str:
    """What a number is called usual or not by, where that is not this machine's own; else empty."""
    of = finding.quantity
    if of is None or of.usual is None or not of.usual_value or of.usual in DERIVED:
        return ""
    if any(machine.number(name) is not None for name in (of.usual, of.instead) if name):
        return ""
    taken = read_quantity(finding, f"{of.usual_value:g} {of.unit}")
    shown = taken.shown(unit_of(finding, machine) or of.unit, _dimension(finding))
    return f"usual is taken as {shown}, as this coater's own is not known"


def likelihood(finding: Finding, text: str, machine: Machine) -> tuple[float, ...]:
    """P(what was read | answer) up to a factor: the share of the reading in each band.

    After a bound such as "below 0.1 Torr" it is the chance that the bound leaves room in the band.
    No band gets less than 0.1 %: a misprint must not rule anything out.
    """
    stated = read_quantity(finding, text)
    assert finding.quantity is not None
    spread = finding.quantity.spread * stated.wider
    ends = [end for end in (stated.low, stated.high) if math.isfinite(end)]
    below = [_below(edge, ends[0], ends[-1], spread) for edge in edges(finding, machine)]
    shares = [b - a for a, b in itertools.pairwise([0.0, *below, 1.0])]
    if math.isinf(stated.high):
        shares = list(itertools.accumulate(shares))
    elif math.isinf(stated.low):
        shares = list(itertools.accumulate(reversed(shares)))[::-1]
    return tuple(max(share, LEAST) for share in shares)


def _below(edge: float, low: float, high: float, spread: float) -> float:
    """P(true value < edge): the mean of log-normal readings from `low` to `high`.

    With z = ln(edge / reading) / spread and the normal distribution Phi (density phi), the mean of
    Phi(z) over z is the difference of z Phi(z) + phi(z) at both ends over that of z. A reading of
    zero or less lies below every edge.
    """
    if high <= 0:
        return 1.0
    near, far = ((math.log(edge) - math.log(end)) / spread for end in (low, high))
    if near - far < 1e-3:
        return _normal((near + far) / 2)
    return (_mass(near) - _mass(far)) / (near - far)


def _normal(z: float) -> float:
    """The normal distribution up to z."""
    return 0.5 * (1.0 + math.erf(z / math.sqrt(2.0)))


def _mass(z: float) -> float:
    """The integral of the normal distribution up to z."""
    return z * _normal(z) + math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)


def likeliest(finding: Finding, vector: tuple[float, ...]) -> str:
    """The answer that a likelihood stands for; of several left open by a bound the commonest."""
    answers = dict(zip(finding.answers, vector, strict=True))
    room = [a for a, p in answers.items() if p > ROOM]
    return (
        max(room, key=finding.background.__getitem__)
        if room
        else max(answers, key=answers.__getitem__)
    )


def amounts_to(finding: Finding, text: str, machine: Machine) -> list[str]:
    """The answers that what was typed may mean, in their order, to be read back."""
    vector = likelihood(finding, text, machine)
    least = ROOM if read_quantity(finding, text).is_bound else SHARE_TOLD * max(vector)
    return [a for a, p in zip(finding.answers, vector, strict=True) if p > least]


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


def in_lab_unit(finding: Finding, text: str, machine: Machine) -> str:
    """What was typed, in this gauge's unit where that was told: `0.15 Torr (given as 20 Pa)`."""
    unit = unit_of(finding, machine)
    if finding.quantity is None or unit is None or machine.told_unit is None:
        return text
    if unit in text or not finding.quantity.dimension.startswith("pressure"):
        return text
    return f"{read_quantity(finding, text).shown(unit, _dimension(finding))} (given as {text})"
