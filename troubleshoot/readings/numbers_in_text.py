"""Numbers with units found in running text, as somebody writes them into a logbook."""

import re
from collections.abc import Collection
from dataclasses import dataclass

from troubleshoot import units

_FIGURE = r"[-+]?[0-9]+(?:[.,][0-9]+)?(?: ?[xX×] ?10 ?\^? ?[-+−]?[0-9]+|[eE][-+−]?[0-9]+)?"
_BEFORE = (
    r"(?:about|around|roughly|approximately|circa|approx\.?|ca\.|below|under|over|above|up to|"
    r"at (?:least|most)|(?:more|less|longer|shorter) than|[~≈<>≤≥]=?)"
)
_A_TIME = r"(?:\s?/\s?(?:s|min|h)\b|\s(?:per|in (?:an?|one|1))\s(?:s|sec|min|h)[a-z]*)"


@dataclass(frozen=True)
class Number:
    """One number, range or bound with its unit: as written, what it measures, where it stands."""

    text: str
    dimension: str
    start: int
    end: int


def numbers_in(text: str, dimensions: Collection[str]) -> list[Number]:
    """The numbers of these dimensions in `text`, in their order.

    A pressure over a time is a pressure rate. Only units that stand beside a number count.
    """
    found = []
    for dimension in dimensions:
        over = dimension == "pressure rate"
        spelled = units.spellings("pressure" if over else dimension)
        unit = "|".join(re.escape(s) for s in sorted(spelled, key=len, reverse=True))
        pattern = re.compile(
            rf"(?:{_BEFORE}\s?)?(?<![0-9.,a-zA-Z])(?:{_FIGURE}\s?(?:{unit})?\s?(?:to|-|–)\s?)?"
            rf"{_FIGURE}\s?(?:{unit})(?![A-Za-z0-9])" + (_A_TIME if over else rf"(?!{_A_TIME})"),
        )
        found += [Number(m[0], dimension, m.start(), m.end()) for m in pattern.finditer(text)]
    return sorted(found, key=lambda n: n.start)
