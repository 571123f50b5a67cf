"""What one cell of a logger's table says: a number, a unit, a clock or a date."""

import math
import re
from datetime import UTC, datetime
from functools import lru_cache

from troubleshoot import units
from troubleshoot.errors import UserError

DAY = 86400.0

NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*([ap]m)?", re.IGNORECASE)
DATE_CLOCK = re.compile(r"\d{1,2}[./-]\d{1,2}[./-]\d{2,4}\s+(\d{1,2}:\d{2}.*)")


@lru_cache(maxsize=4096)
def is_unit(text: str, dimension: str = "") -> bool:
    """Whether a text is a unit of a dimension (of pressure or time if none is named)."""
    for name in (dimension,) if dimension else ("pressure", "time"):
        try:
            units.to_si(1, text.strip(), name)
        except UserError:
            continue
        return True
    return False


def number(cell: str) -> float:
    """The number in a cell, with a decimal point or comma, perhaps with a unit; else nan."""
    cell = cell.strip()
    try:
        return float(cell)
    except ValueError:
        pass
    match = NUMBER.match(cell)
    if not match or (match.end() < len(cell) and not is_unit(cell[match.end() :])):
        return math.nan
    return float(match[0].replace(",", "."))


def stamp(cell: str, kind: str, factor: float) -> float:
    """Seconds of a clock, or since some day of a date and clock; nan if it is neither."""
    cell = cell.strip()
    if kind == "iso":
        try:
            when = datetime.fromisoformat(cell.replace(",", "."))
        except ValueError:
            return math.nan
        # Without a zone only differences matter, and a change of summer time must not make one.
        return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp()
    days = 0.0
    if kind == "dated":
        match = DATE_CLOCK.fullmatch(cell)
        if not match:
            return math.nan
        cell, days = match[1], _day(cell)
    clock = CLOCK.fullmatch(cell)
    if not clock:
        return math.nan
    hours = int(clock[1]) % 12 + (12 if clock[4].lower() == "pm" else 0) if clock[4] else clock[1]
    if clock[3] is None:
        return DAY * days + factor * (60 * int(hours) + int(clock[2]))
    return DAY * days + 3600 * int(hours) + 60 * int(clock[2]) + float(clock[3].replace(",", "."))


def _day(cell: str) -> float:
    """Days of a date that is not ISO: day first with dots or dashes, month first with strokes
    unless that is no month. Only differences matter."""
    a, b, year = (int(n) for n in re.findall(r"\d+", cell)[:3])
    day, month = (b, a) if "/" in cell.split()[0] and a <= 12 else (a, b)
    try:
        return float(datetime(year + 2000 if year < 100 else year, month, day).toordinal())
    except ValueError:
        return math.nan
