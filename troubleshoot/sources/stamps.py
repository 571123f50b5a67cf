"""Clocks and dates as loggers stamp them, to seconds.

How the stamps of one table are written is settled from many of them, once: a single `03/04/2026`
does not say which is the day. After that every stamp is read the same way.
"""

import math
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime

DAY = 86400.0
_NEAR_SECONDS = datetime(2000, 1, 1, tzinfo=UTC).timestamp()
_NEAR = date(2000, 1, 1)  # so that thousandths of seconds are not lost in a float

# The first letters of the months in English, German, French and Spanish, without accents.
_MONTHS = {
    "jan": 1, "ene": 1, "feb": 2, "fev": 2, "mar": 3, "mrz": 3, "mae": 3, "apr": 4, "avr": 4,
    "abr": 4, "may": 5, "mai": 5, "jun": 6, "juin": 6, "jul": 7, "juil": 7, "aug": 8, "aou": 8,
    "ago": 8, "sep": 9, "oct": 10, "okt": 10, "nov": 11, "dec": 12, "dez": 12, "dic": 12,
}  # fmt: skip
_ZONES = {"Z": 0.0, "UTC": 0.0, "GMT": 0.0, "CET": 1.0, "MEZ": 1.0, "CEST": 2.0, "MESZ": 2.0}

_WORD = r"(?P<word>[^\W\d_]{3,10})"
_WEEKDAY = r"(?:[^\W\d_]{2,10}\.{0,2}\s+)?"
_GLUE = r"(?:\.\s?|[-/ ])"
_DATES = (
    r"(?P<y>\d{4})(?P<g>[-/._])(?P<m>\d{1,2})(?P=g)(?P<d>\d{1,2})",
    r"(?P<y>(?:19|20)\d{2})(?P<m>\d{2})(?P<d>\d{2})",
    r"(?P<a>\d{1,2})(?P<g>[-/.])\s?(?P<b>\d{1,2})(?P=g)\s?(?P<y>\d{4}|\d{2})",
    rf"(?P<d>\d{{1,2}}){_GLUE}(?:de )?{_WORD}{_GLUE}\s?(?:de )?(?P<y>\d{{4}}|\d{{2}})",
    rf"{_WORD}{_GLUE}(?P<d>\d{{1,2}}){_GLUE}\s?(?P<y>\d{{4}})",
)
_HALF = r"(?:\s*(?P<half>[ap])\.?\s?m\.?)?"
_CLOCK = (
    r"(?P<H>\d{1,4})\s?[:h]\s?(?P<M>\d{2})(?:\s?[:m]\s?(?P<S>\d{2}(?:[.:]\d{1,9})?)\s?s?)?" + _HALF
)
_DOTTED = r"(?P<H>\d{1,2})(?P<c>[._-])(?P<M>\d{2})(?P=c)(?P<S>\d{2})" + _HALF
_MINUTES = r"(?P<min>\d{1,4}):(?P<sec>[0-5]\d\.\d{1,6})"
"""As spreadsheets show times with tenths: 00:05.0."""
_COMPACT = r"(?P<H>\d{2})(?P<M>\d{2})(?P<S>\d{2}(?:\.\d{1,9})?)"
_ZONE = rf"(?:\s*(?P<zone>{'|'.join(_ZONES)}|[+-]\d{{2}}(?::?\d{{2}})?))?"


def _forms() -> tuple[re.Pattern[str], ...]:
    """Every way of writing a stamp, the commonest first."""
    between = r"(?:\s*[T.;]\s*|\s+|_)"
    written = [
        *(_WEEKDAY + d + between + c + _ZONE for d in _DATES for c in (_CLOCK, _DOTTED, _COMPACT)),
        *(c + r"[\s.;]+" + _WEEKDAY + d for d in _DATES for c in (_CLOCK, _DOTTED)),
        rf"{_WEEKDAY}{_WORD}\s+(?P<d>\d{{1,2}})\s+{_CLOCK}{_ZONE}\s+(?P<y>\d{{4}})",
        _DATES[1] + _COMPACT,
        _CLOCK + _ZONE,
        _MINUTES,
        r"(?P<days>\d{1,4})(?:\s?(?:d|days?|tage?|jours?|d[i\u00ed]as?)[.,]?\s+|\.)" + _CLOCK,
        _DOTTED,
        *(_WEEKDAY + d for d in _DATES),
    ]
    return tuple(re.compile(form, re.IGNORECASE) for form in written)


_FORMS = _forms()
_PERHAPS = re.compile(r"(?=.*\d.*\d.*\d)[^|;]{4,48}")
_SIGNS = re.compile(
    r"\d\s?[:h]\s?\d\d|\d(?P<g>[-/._])\s?\d{1,2}(?P=g)\s?\d|\d\W{0,2}[^\W\d_]{3}|[^\W\d_]{3}\W{1,2}\d"
    r"|(?<!\d)\d{8}(?:\d{6})?(?!\d)",
    re.IGNORECASE,
)


def form_of(cell: str) -> re.Pattern[str] | None:
    """How a cell is written, if it is a date or a clock, or both."""
    cell = _plain(cell)
    if not _PERHAPS.fullmatch(cell) or not _SIGNS.search(cell):
        return None
    return next((form for form in _FORMS if _means(form.fullmatch(cell))), None)


def _plain(cell: str) -> str:
    """Out of its brackets, and with points for commas: those of numbers may have been changed."""
    return cell.strip(" \t[]()").replace(",", ".")


def _means(match: re.Match[str] | None) -> bool:
    return match is not None and any(
        math.isfinite(_seconds(match, first, 60.0)) for first in (False, True)
    )


def kind_of(form: re.Pattern[str]) -> str:
    """What stamps of this form hold: "dated" (a date and a clock), "date" or "clock"."""
    clock = "H" in form.groupindex or "min" in form.groupindex
    day = "y" in form.groupindex
    return "dated" if clock and day else "date" if day else "clock"


@dataclass(frozen=True)
class Stamps:
    """How the stamps of one table are written.

    `month_first`: of two numbers the first is the month. `two_fields`: seconds that the last field
    of a clock with two fields counts (60: hours and minutes, 1: minutes and seconds). `iso`: the
    standard library reads them too, many times faster.
    """

    form: re.Pattern[str]
    month_first: bool = False
    two_fields: float = 60.0
    iso: bool = False

    def seconds(self, text: str) -> float:
        """Seconds since midnight, or since some day; nan for what is not so written."""
        found = _iso(text) if self.iso else math.nan
        if math.isfinite(found):
            return found
        match = self.form.fullmatch(_plain(text))
        return math.nan if match is None else _seconds(match, self.month_first, self.two_fields)

    @property
    def kind(self) -> str:
        """As `kind_of` says."""
        return kind_of(self.form)


def stamps_of(cells: Sequence[str], two_fields: float = 60.0) -> Stamps | None:
    """How these stamps are written; None where most of them are none, or are written otherwise.

    Which of two numbers is the day is told by one above 12, else by the order in which the log is
    shorter; for stamps of one day it does not matter.
    """
    found = [form for form in map(form_of, cells) if form is not None]
    if not found:
        return None
    form = max(set(found), key=found.count)
    if "a" not in form.groupindex:
        alike = [cell for cell in cells if form.fullmatch(_plain(cell))]
        iso = kind_of(form) == "dated" and all(math.isfinite(_iso(cell)) for cell in alike)
        return Stamps(form, two_fields=two_fields, iso=iso)
    spans = {}
    for month_first in (False, True):
        stamps = Stamps(form, month_first, two_fields)
        times = [t for t in map(stamps.seconds, cells) if math.isfinite(t)]
        lost = len(cells) - len(times)
        spans[month_first] = (lost, max(times) - min(times) if times else math.inf)
    strokes = any("/" in cell for cell in cells)
    best = min((False, True), key=lambda first: (spans[first], first is not strokes))
    return Stamps(form, best, two_fields)


def _iso(text: str) -> float:
    """Seconds since 2000 of a date and clock after ISO 8601; nan for another."""
    try:
        when = datetime.fromisoformat(_plain(text))
    except ValueError:
        return math.nan
    return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp() - _NEAR_SECONDS


def short_clock(cell: str) -> tuple[int, int] | None:
    """The two fields of a clock that has only two, and no date and no half of the day; else None.

    Such a clock counts hours and minutes, or minutes and seconds.
    """
    form = form_of(cell)
    match = form.fullmatch(_plain(cell)) if form is not None and kind_of(form) == "clock" else None
    said = match.groupdict() if match is not None else {"S": ""}
    if said.get("S", "") is not None or "h" in cell.lower() or said["half"]:
        return None
    return int(said["H"]), int(said["M"])


def _seconds(match: re.Match[str], month_first: bool, two_fields: float) -> float:
    """Seconds of what a form matched; nan where it is no day, or no time of one."""
    said = match.groupdict()
    dated = "y" in said
    if "min" in said:
        return 60.0 * int(said["min"]) + float(said["sec"])
    days = _day(said, month_first) if dated else float(said.get("days") or 0)
    if said.get("H") is None:
        return DAY * days
    hours, minutes = int(said["H"]), int(said["M"])
    half = (said.get("half") or "").lower()
    if minutes > 59 or (half and not 1 <= hours <= 12) or (dated and hours > 24):
        return math.nan
    if half:
        hours = hours % 12 + (12 if half == "p" else 0)
    if said["S"] is None:
        return DAY * days + two_fields * (60 * hours + minutes)
    whole, _, part = said["S"].replace(":", ".").partition(".")
    if int(whole) > 60:
        return math.nan
    seconds = int(whole) + (int(part) / 10 ** len(part) if part else 0.0)
    return DAY * days + 3600 * hours + 60 * minutes + seconds - _zone(said.get("zone"))


def _day(said: dict[str, str], month_first: bool) -> float:
    """Days since the year 2000."""
    if "a" in said:
        a, b = int(said["a"]), int(said["b"])
        month, day = (a, b) if month_first else (b, a)
    else:
        day = int(said["d"])
        month = _month(said["word"]) if "word" in said else int(said["m"])
    year = int(said["y"])
    try:
        when = date(year + 2000 if year < 100 else year, month, day)
    except ValueError:
        return math.nan
    return float((when - _NEAR).days)


def _month(word: str) -> int:
    plain = unicodedata.normalize("NFKD", word.lower())
    letters = "".join(c for c in plain if not unicodedata.combining(c))
    return _MONTHS.get(letters[:4]) or _MONTHS.get(letters[:3]) or 0


def _zone(name: str | None) -> float:
    """Seconds ahead of UTC. Without a zone only differences matter, and a change of summer time
    must not make one."""
    if not name:
        return 0.0
    if name.upper() in _ZONES:
        return 3600 * _ZONES[name.upper()]
    digits = name[1:].replace(":", "").ljust(4, "0")
    return (-1 if name[0] == "-" else 1) * (3600 * int(digits[:2]) + 60.0 * int(digits[2:]))
