"""Rows of a table as times and numbers, read in blocks and in bounded memory.

What a single cell says is settled by `number` and `stamp`, one cell at a time. Everything else here
gives the same, faster: numpy reads a piece of a table that is all numbers, and where it refuses,
or times are clocks or dates, the csv module cuts the piece into columns. There a number is tried
as one first, and of stamps only the first of each minute is worked out.
"""

import csv
import math
import re
import warnings
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from operator import itemgetter, methodcaller
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from troubleshoot.errors import UserError
from troubleshoot.physics import units

Floats = NDArray[np.float64]

BLOCK = 1 << 21
"""Characters read at a time."""
PIECE = 2048
"""Lines that numpy reads, or refuses, together; so few that a processor keeps them close by."""
MOST_KEPT = 1 << 16
"""Texts whose meaning is remembered; the seconds of a minute in thousandths are 60,000."""
DAY = 86400.0

NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*([ap]m)?", re.IGNORECASE)
DATE_CLOCK = re.compile(r"\d{1,2}[./-]\d{1,2}[./-]\d{2,4}\s+(\d{1,2}:\d{2}.*)")
_SECONDS = re.compile(r"(.*?\d{1,2}:\d{2}:)(\d{2}(?:[.,]\d+)?)(.*)")
_TWO_DIGITS = re.compile(r"\d{2}(?:[.,]\d+)?")
_SHORTEST_ISO = len("2026-01-05T08:00")


@dataclass(frozen=True)
class Dialect:
    """How one table is written."""

    encoding: str
    delimiter: str
    comma: bool  # numbers have a decimal comma
    first: int  # lines before the data
    time: int  # column
    values: tuple[int, ...]  # columns
    kind: str  # "number", "clock", "iso" or "dated" (a date that is not ISO, and a clock)
    factor: float  # time in s, for "number"; of a minute written hh:mm or mm:ss, for "clock"


def blocks(path: Path, dialect: Dialect) -> Iterator[tuple[Floats, Floats]]:
    """Times in s, as they are written, and values (a row each); what cannot be read is nan.

    Blank rows are left out.
    """
    reader = _Reader(dialect)
    with path.open(encoding=dialect.encoding, errors="replace", newline=None) as stream:
        for _ in range(dialect.first):
            next(stream, None)
        while lines := stream.readlines(BLOCK):
            pieces = (lines[i : i + PIECE] for i in range(0, len(lines), PIECE))
            times, values = zip(*map(reader.read, pieces), strict=True)
            yield np.concatenate(times), np.concatenate(values)


def split(lines: Iterable[str], delimiter: str) -> Iterator[list[str]]:
    """Lines cut into cells."""
    return csv.reader(lines, delimiter=delimiter, skipinitialspace=True)


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


class _Kept(dict[str, float]):
    """What texts mean, worked out once each; all is forgotten when there are too many."""

    def __init__(self, meaning: Callable[[str], float]) -> None:
        super().__init__()
        self._meaning = meaning

    def __missing__(self, text: str) -> float:
        if len(self) >= MOST_KEPT:
            self.clear()
        value = self[text] = self._meaning(text)
        return value


class _Reader:
    """Reads pieces of one table; remembers odd cells and minutes from piece to piece."""

    def __init__(self, dialect: Dialect) -> None:
        self._dialect = dialect
        self._wanted = itemgetter(dialect.time, *dialect.values)
        self._odd = _Kept(number)
        self._stamps = _Kept(lambda text: stamp(text, dialect.kind, dialect.factor))
        self._minutes = _Kept(lambda text: self._stamps[text] if _SECONDS.match(text) else math.nan)
        zero = "1970-01-01T00:00:" if dialect.kind == "iso" else "0:00:"
        kind = "iso" if dialect.kind == "iso" else "clock"
        self._seconds = _Kept(
            lambda text: stamp(zero + text, kind, 1.0) if _TWO_DIGITS.fullmatch(text) else math.nan
        )

    def read(self, lines: list[str]) -> tuple[Floats, Floats]:
        """Times and values of a piece."""
        if self._dialect.kind == "number":
            try:
                return self._by_numpy(lines)
            except (ValueError, OverflowError, IndexError):
                pass
        times, *values = self._columns(lines)
        numbers = np.stack([self._numbers(cells) for cells in values], axis=1)
        if self._dialect.kind == "number":
            return self._numbers(times) * self._dialect.factor, numbers
        return self._times(times), numbers

    def _by_numpy(self, lines: list[str]) -> tuple[Floats, Floats]:
        """A piece in which all wanted cells are numbers; raises `ValueError` for another."""
        dialect = self._dialect
        if dialect.comma:
            if dialect.delimiter == ",":
                raise ValueError("commas inside quotes are for the csv module")
            lines = [line.replace(",", ".") for line in lines]
        with warnings.catch_warnings():
            # numpy warns of a piece of blank lines.
            warnings.simplefilter("ignore")
            table = np.loadtxt(
                lines,
                delimiter=None if dialect.delimiter == " " else dialect.delimiter,
                usecols=(dialect.time, *dialect.values),
                quotechar='"',
                comments=None,
                ndmin=2,
            )
        return table[:, 0] * dialect.factor, table[:, 1:]

    def _columns(self, lines: list[str]) -> list[list[str]]:
        """The wanted cells, column by column; a cell that a short row lacks is empty."""
        wanted = self._wanted
        flat: list[str] = []
        for row in split(lines, self._dialect.delimiter):
            try:
                cells = wanted(row)
            except IndexError:
                cells = wanted(row + [""] * (1 + max(self._dialect.time, *self._dialect.values)))
            # Only a row without a time can be blank, so the others need no closer look.
            if cells[0] > " " or any(map(str.strip, row)):
                flat += cells
        count = 1 + len(self._dialect.values)
        return [flat[n::count] for n in range(count)]

    def _numbers(self, cells: list[str]) -> Floats:
        if self._dialect.comma:
            cells = [cell.replace(",", ".") for cell in cells]
        found: list[float] = []
        rest = iter(cells)
        ending = ""
        while len(found) < len(cells):
            try:
                # What came before a cell that is no number stays in the list.
                found.extend(map(float, rest))
            except ValueError:
                cell = cells[len(found)]
                found.append(self._odd[cell])
                match = NUMBER.match(cell)
                if not ending and match and math.isfinite(found[-1]):
                    # A unit, and most likely the same again in the cells to come.
                    ending = cell[match.end() :]
                    rest = map(methodcaller("removesuffix", ending), rest)
        return np.array(found)

    def _times(self, cells: list[str]) -> Floats:
        """Stamps. A clock in most cells differs from the last only in the seconds."""
        shape = next(filter(None, map(_SECONDS.match, cells)), None)
        if shape is None:
            return np.array([self._stamps[cell] for cell in cells])
        if self._dialect.kind == "iso":
            try:
                return _by_numpy_iso(cells, shape[3])
            except ValueError:
                pass
        minutes, seconds = self._minutes, self._seconds
        start, end = shape.span(2)
        if shape[3]:
            found = [minutes[f"{c[:start]}00{c[end:]}"] + seconds[c[start:end]] for c in cells]
        else:
            found = [minutes[c[:start] + "00"] + seconds[c[start:]] for c in cells]
        times = np.array(found)
        for i in np.flatnonzero(np.isnan(times)):
            times[i] = self._stamps[cells[i]]
        return times


def _by_numpy_iso(cells: list[str], zone: str) -> Floats:
    """ISO stamps that all have the same zone, or none; raises `ValueError` for others."""
    if min(map(len, cells)) < _SHORTEST_ISO:
        raise ValueError("numpy takes 2026 for a date")
    offset = stamp("1970-01-01T00:00:00" + zone, "iso", 1.0)
    if zone:
        if math.isnan(offset) or not all(map(methodcaller("endswith", zone), cells)):
            raise ValueError("not one zone")
        cells = [cell[: -len(zone)] for cell in cells]
    with warnings.catch_warnings():
        # numpy warns where a row has a zone after all.
        warnings.simplefilter("error")
        try:
            stamps = np.array(cells, dtype="S").astype("datetime64[us]")
        except Warning as warning:
            raise ValueError("a zone") from warning
    return np.asarray(stamps.astype(np.int64) / 1e6 + offset)
