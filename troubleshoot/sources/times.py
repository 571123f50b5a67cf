"""Where the times of a table stand, and how they are written or counted.

What the table leaves open is not guessed: `NeedsTelling`.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from troubleshoot import units
from troubleshoot.errors import UserError
from troubleshoot.sources.cells import unit_of
from troubleshoot.sources.dialect import Value
from troubleshoot.sources.heads import FACTOR
from troubleshoot.sources.layout import STAMPS, Column, Layout
from troubleshoot.sources.stamps import DAY, Stamps, form_of, short_clock, stamps_of

_LATE = 1
"""Hours. A clock of two fields that begins later is one of hours and minutes: nobody lets a
stopwatch run before the log begins."""
UNEVEN = 5.0
_SINCE_1970 = {1e9: 1.0, 1e12: 1e-3, 1e15: 1e-6, 1e18: 1e-9}
"""From the year 2001 to 2286 a count since 1970 has ten digits in s, 13 in ms, 16 in us, 19 in
ns."""
_SERIAL_DAYS = (36526, 73051)
"""What a spreadsheet counts as the years 2000 to 2099: days since the end of 1899."""
_UNITS_ARE = re.compile(r"\bunits?\b|einheit|unit\u00e9|unidad", re.IGNORECASE)
_DATED = re.compile(r"date|datum|fecha|stamp|stempel|horodat", re.IGNORECASE)
_INTERVAL = re.compile(
    r"(interval\w*|sampl\w+|abtast\w+|p[e\u00e9]riod\w*|cadence|logging rate)[^\d]{0,20}?"
    r"(\d+(?:[.,]\d+)?)\W*([^\W\d]+)",
    re.IGNORECASE,
)


class NeedsTelling(UserError):
    """The table leaves something open: `what` is "pressure" or "time" (their unit), or "column".

    `choices`: the columns that fit.
    """

    def __init__(self, what: str, message: str, choices: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.what = what
        self.choices = choices


@dataclass(frozen=True)
class Times:
    """Where the times stand: as stamps, their dates perhaps in a column of their own, or as numbers
    that count `factor` seconds (`units`: their unit, where each row says it); `every`: no times, a
    row every so many seconds."""

    column: Column
    stamps: Stamps | None = None
    factor: float = 1.0
    date: Column | None = None
    every: float | None = None
    units: Value | None = None

    def in_words(self) -> str:
        """Which column, and how it was taken."""
        if self.every is not None:
            return f"a row every {units.format_number(self.every)} s"
        if self.stamps is None:
            return f"time from column {self.column.called} in {_time_unit(self.factor)}"
        if self.date is not None:
            return f"time from columns {self.date.called} and {self.column.called}"
        how = {"dated": "date and clock", "date": "date", "clock": "clock"}[self.stamps.kind]
        if any(map(short_clock, self.column.cells[:3])):
            how = "hours:minutes" if self.stamps.two_fields == 60 else "minutes:seconds"
        elif "a" in self.stamps.form.groupindex:
            how += ", month first" if self.stamps.month_first else ", day first"
        return f"time from column {self.column.called} ({how})"


def _time_unit(factor: float) -> str:
    names = {1.0: "s", 60.0: "min", 3600.0: "h", 1e-3: "ms", 1e-6: "us", 1e-9: "ns", 86400.0: "d"}
    return names.get(factor, f"{factor:g} s")


def times_of(
    path: Path, layout: Layout, last: list[str], time_unit: str | None, every: float | None
) -> Times:
    """Where the times stand. Raises `UserError`, and `NeedsTelling` where their unit is open."""
    if every is not None:
        numbers = [c for c in layout.columns if c.kind == "number"]
        if not numbers:
            raise UserError(f"{path}: no column holds numbers; export the readings with it.")
        return Times(numbers[0], every=every)
    moving = [c for c in layout.columns if c.kind in STAMPS and len(set(c.cells)) > 1]
    stamped = moving or [c for c in layout.columns if c.kind in STAMPS]
    for wanted in ("dated", "clock", "date"):
        found = next((c for c in stamped if c.kind == wanted), None)
        if found is None or (wanted == "date" and _counted(layout)):
            continue
        dates = [c for c in layout.columns if c.kind == "date"]
        day = dates[0] if wanted == "clock" and dates else None
        return _stamped(path, found, day, last, layout.delimiter, time_unit)
    return _numbered(path, layout, time_unit)


def _counted(layout: Layout) -> list[Column]:
    """Columns of numbers that say they are times, those that run before those that do not."""
    named = [c for c in layout.columns if c.kind == "number" and c.quantity == "time"]
    return sorted(named, key=lambda c: (not c.runs, not c.unit))


def _numbered(path: Path, layout: Layout, time_unit: str | None) -> Times:
    named = _counted(layout)
    numbers = [c for c in layout.columns if c.kind == "number"]
    open_ = [c for c in numbers if c.quantity == "" and c.runs and _paced(c)]
    counters = [c for c in numbers if c.quantity == "counter" and c.runs]
    found = next(iter([*named, *open_, *(counters if time_unit else [])]), None)
    filled = [c for c in layout.columns if c.kind in ("number", "void")]
    if found is not None and len(filled) > 1:
        by_row = found.units_at is not None and time_unit is None
        unit = Value(found.place, "time", found.unit, found.units_at) if by_row else None
        return Times(found, factor=_factor(path, layout, found, time_unit), units=unit)
    said = _interval(layout)
    if said is not None and numbers:
        return Times(numbers[0], every=said)
    if counters:
        raise UserError(
            f"{path}: column {counters[0].called} counts rows and is no time; say the time from "
            "row to row with --every, for instance --every 1s, or its unit with --time-unit."
        )
    held = _held(layout)
    if len(filled) < 2 and held and not named:
        raise UserError(
            f"{path}: one column of numbers is not enough; give a column of times beside it, or "
            "the time from row to row with --every, for instance --every 1s."
        )
    raise UserError(
        f"{path}: no time stands in this table ({held}), so it is no log; give a table with a "
        "column of times, or the time from row to row with --every."
    )


def _paced(column: Column) -> bool:
    """Whether it may be a time: one that falls, newest first, does so in even steps, while a
    pressure falls ever more slowly."""
    steps = [abs(step) for step in column.differences if step]
    usual = sorted(steps)[len(steps) // 2]
    even = sum(usual / UNEVEN <= step <= usual * UNEVEN for step in steps) > 0.9 * len(steps)
    return even or sum(step > 0 for step in column.differences) > len(column.differences) / 2


def _interval(layout: Layout) -> float | None:
    """The time from row to row in s, where the head says it."""
    for row in layout.preface:
        found = _INTERVAL.search(" ".join(row))
        if found and (found[3].lower() == "hz" or unit_of(found[3], "time")):
            number = float(found[2].replace(",", "."))
            if number > 0:
                hertz = found[3].lower() == "hz"
                return 1 / number if hertz else number * units.to_si(1, found[3], "time")
    return None


def _held(layout: Layout) -> str:
    """What the columns of numbers hold, in words."""
    numbers = [c for c in layout.columns if c.kind in ("number", "void")]
    words = dict.fromkeys(c.quantity or f"column {c.called}" for c in numbers)
    return " and ".join(words) + " only" if words else ""


def _stamped(
    path: Path,
    column: Column,
    day: Column | None,
    last: list[str],
    delimiter: str,
    time_unit: str | None,
) -> Times:
    cells = [cell for cell in column.cells if cell]
    if column.kind != "clock":
        end = _cell_of(last, delimiter, column.place)
        stamps = stamps_of([*cells, *([end] if form_of(end) else [])])
    elif day is not None:
        both = [f"{a} {b}" for a, b in zip(day.cells, column.cells, strict=False)]
        end = f"{_cell_of(last, delimiter, day.place)} {_cell_of(last, delimiter, column.place)}"
        stamps = stamps_of([*both, *([end] if form_of(end) else [])])
    else:
        stamps = stamps_of(cells, _two_fields(path, cells, time_unit))
    if stamps is None:
        raise UserError(f"{path}: the times in column {column.called} are written in several ways.")
    return Times(column, stamps, date=day)


def _cell_of(last: list[str], delimiter: str, place: int) -> str:
    cells = next((line.split(delimiter) for line in reversed(last) if line.strip()), [])
    return cells[place].strip().strip('"') if place < len(cells) else ""


def _two_fields(path: Path, cells: list[str], time_unit: str | None) -> float:
    """What the last field of a clock counts in s, if it has only two."""
    short = [fields for fields in map(short_clock, cells) if fields is not None]
    if len(short) < len(cells) / 2:
        return 60.0
    if time_unit in ("hh:mm", "mm:ss"):
        return 60.0 if time_unit == "hh:mm" else 1.0
    firsts = [first for first, _ in short]
    if max(firsts) > 23:
        return 1.0
    if min(firsts) >= _LATE:
        return 60.0
    raise NeedsTelling(
        "time",
        f"{path}: times such as {cells[0]!r} can be hours:minutes or minutes:seconds; say which "
        "with --time-unit hh:mm or --time-unit mm:ss.",
    )


def _factor(path: Path, layout: Layout, column: Column, time_unit: str | None) -> float:
    if time_unit is not None:
        try:
            return units.to_si(1, time_unit, "time")
        except UserError as error:
            raise UserError(f"--time-unit: {error}") from None
    if FACTOR.search(column.name):
        raise UserError(
            f"{path}: a power of ten stands in the head {column.called}: give the unit of the "
            "times with --time-unit, such as --time-unit ms."
        )
    if column.quantity == "time" and column.unit:
        return units.to_si(1, column.unit, "time")
    since_1970 = column.numbers[0] if column.numbers else 0.0
    counted = next((f for n, f in _SINCE_1970.items() if n < since_1970 < 10 * n), None)
    if counted is not None:
        return counted
    said = _unit_said_once(layout)
    if said:
        return units.to_si(1, said, "time")
    if _DATED.search(column.name) and column.numbers and _as_serial_days(column.numbers):
        return DAY
    raise NeedsTelling(
        "time",
        f"{path}: the column of times does not say its unit; give it with --time-unit s (or min, "
        "h, ms).",
    )


def _unit_said_once(layout: Layout) -> str:
    """A unit of time that a line of the head says for the whole table: `Horizontal Units, s`.

    Tables with a line `X_Dimension, Time` count in SI.
    """
    if any([cell.strip() for cell in row[:2]] == ["X_Dimension", "Time"] for row in layout.preface):
        return "s"
    rows = (" ".join(row).split() for row in layout.preface)
    last = (words[-1] for words in rows if words and _UNITS_ARE.search(" ".join(words)))
    return next((unit for word in last if (unit := unit_of(word, "time"))), "")


def _as_serial_days(numbers: list[float]) -> bool:
    """Whether numbers under a head of dates are the days of a spreadsheet, with parts of a day."""
    first, last = _SERIAL_DAYS
    inside = all(first <= number < last for number in numbers)
    return inside and any(number % 1 for number in numbers)
