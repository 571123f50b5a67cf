"""What one cell of a logger's table says: a number with its unit, a stamp, or no reading."""

import math
import re
from functools import lru_cache

from troubleshoot import units
from troubleshoot.sources.stamps import form_of, kind_of

NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
GROUPED = re.compile(r"[+-]?\d{1,3}(?:(?P<mark>[., '\u2019])\d{3})+(?!(?P=mark))[.,]\d+")
_VOID = re.compile(
    r"[<>]\s*[-+.,\deE]+.*|[-+]?(?:over|under|ov|ud)[- ]?(?:range|flow|load|fl|rng|r)?"
    r"|[+-]?[o0]\.?[lrf]\.?|[+-]?u\.?[rf]\.?|ul|inf|nan|#?n/?a|null|none|err(?:or)?\s?\d{0,4}|off"
    r"|no (?:sensor|signal|data)|[-*?#.]{2,}",
    re.IGNORECASE,
)
_OVER = re.compile(
    r">\s*\+?[.,\d].*|\+?(?:over|ov)[- ]?(?:range|flow|load|fl|rng|r)?|\+?[o0]\.?[lrf]\.?|\+?inf",
    re.IGNORECASE,
)
_UNDER = re.compile(
    r"<\s*\+?[.,\d].*|(?:under|ud)[- ]?(?:range|flow|load|fl|rng|r)?|u\.?[lrf]\.?|-inf",
    re.IGNORECASE,
)
_DIGITS = re.compile(r"20\d{12}")
"""A date and a clock without any sign between: 20260302115800. As a number it counts nothing."""
_TYPOGRAPHY = str.maketrans(
    {"\u2212": "-", "\u00a0": " ", "\u202f": " ", "\u207b": "-", "\u00b9": "1", "\u00b2": "2",
     "\u00b3": "3"} | {chr(0x2070 + n): str(n) for n in (0, *range(4, 10))}
)  # fmt: skip
_TIMES_TEN = re.compile(r"(?<=\d)\s?[x\u00d7*\u00b7]\s?10\^?(?=[+-]?\d)")
"""Powers of ten written out: `3 x 10^-2`."""

# Units as they are written out in tables, in four languages, beside those of `units`.
_WRITTEN = {
    "pascal": "Pa", "pascals": "Pa", "millibar": "mbar", "millibars": "mbar", "mbar": "mbar",
    "hektopascal": "hPa", "hectopascal": "hPa", "kilopascal": "kPa", "torr": "Torr",
    "mtorr": "mTorr", "millitorr": "mTorr", "microns": "micron", "sekunde": "s", "sekunden": "s",
    "sek": "s", "seconde": "s", "secondes": "s", "segundo": "s", "segundos": "s", "seg": "s",
    "seconds": "s", "minutes": "min", "hours": "h", "minuten": "min", "minuto": "min",
    "minutos": "min", "stunde": "h", "stunden": "h", "std": "h", "heures": "h",
    "horas": "h", "millisekunden": "ms", "volt": "V", "volts": "V",
    "vdc": "V", "v dc": "V", "mvdc": "mV", "mv dc": "mV", "adc": "A", "a dc": "A", "madc": "mA",
    "ma dc": "mA",
}  # fmt: skip
_MEASURED = (
    "pressure", "time", "current", "voltage", "temperature", "length", "pressure rate", "throughput"
)  # fmt: skip
_UNCLEAR = ("mPa", "MPa", "Mbar")
"""Spellings that small letters would turn into another unit."""


@lru_cache(maxsize=4096)
def unit_of(text: str, dimension: str) -> str:
    """The unit of a dimension that a text spells, as `units` knows it; "" if it is none."""
    text = text.strip()
    plain = _WRITTEN.get(text.lower(), "") if text not in _UNCLEAR else ""
    return next((name for name in (text, plain) if units.measures(name, dimension)), "")


@lru_cache(maxsize=4096)
def measured(text: str) -> tuple[str, str]:
    """What a text measures as a unit, of what a log holds, and that unit; two "" if it is none."""
    for dimension in _MEASURED:
        unit = unit_of(text, dimension)
        if unit:
            return dimension, unit
    return "", ""


def split_unit(cell: str) -> tuple[str, str]:
    """The number in a cell and the text after it; two "" where it does not begin with a number."""
    cell = cell.strip()
    if not cell.isascii() or "10" in cell:
        cell = _TIMES_TEN.sub("e", cell.translate(_TYPOGRAPHY))
    match = GROUPED.match(cell) or NUMBER.match(cell)
    return (match[0], cell[match.end() :].strip()) if match else ("", "")


def number(cell: str) -> float:
    """The number in a cell, with a decimal point or comma, perhaps with a unit; else nan."""
    try:
        return float(cell)
    except ValueError:
        pass
    written, rest = split_unit(cell)
    if not written or (rest and not measured(rest)[0]):
        return math.nan
    if GROUPED.fullmatch(written):
        whole, mark, part = re.split(r"([.,])(?=\d+$)", written)
        written = re.sub(r"[., '\u2019]", "", whole) + f".{part}" if mark else whole
    return float(written.replace(",", "."))


def value(cell: str, dimension: str, factor: float) -> float:
    """As `number`, in the unit of a column (`factor`: what it is in SI); infinite beyond a scale.

    A meter that changes its range by itself writes another unit from one row to the next. A unit of
    another dimension changes nothing: in a broken row anything may stand.
    """
    found = number(cell)
    if math.isnan(found):
        return beyond(cell.strip())
    rest = split_unit(cell)[1]
    if not rest:
        return found
    unit = unit_of(rest, dimension)
    return found * units.to_si(1, unit, dimension) / factor if unit else found


def beyond(cell: str) -> float:
    """Plus or minus infinity where a cell says that a scale is left at its end; else nan."""
    word, _, last = cell.rpartition(" ")
    said = word.strip() if word and measured(last)[0] else cell
    return math.inf if _OVER.fullmatch(said) else -math.inf if _UNDER.fullmatch(said) else math.nan


@lru_cache(maxsize=1 << 14)
def kind(cell: str) -> str:
    """What a cell is: "number", "dated", "clock", "date", "unit", "void" (no reading), or ""."""
    cell = cell.strip()
    if not cell:
        return ""
    written, rest = split_unit(cell)
    if written and (not rest or measured(rest)[0]):
        return "dated" if _DIGITS.fullmatch(cell) and form_of(cell) is not None else "number"
    if _VOID.fullmatch(cell) or (" " in cell and _void_with_unit(cell)):
        return "void"
    form = form_of(cell)
    if form is not None:
        return kind_of(form)
    return "unit" if measured(cell)[0] in ("pressure", "time", "current", "voltage") else ""


def _void_with_unit(cell: str) -> bool:
    word, _, last = cell.rpartition(" ")
    return bool(measured(last)[0]) and _VOID.fullmatch(word.strip()) is not None
