"""Which columns of a table are the times, the pressures and the currents, and in which units.

Where the table leaves it open, or where two columns fit, nothing is guessed: `NeedsTelling`.
"""

import re
from dataclasses import dataclass
from pathlib import Path

from troubleshoot import units
from troubleshoot.coater.gauge_scale import EXAMPLE, GaugeScale
from troubleshoot.errors import UserError
from troubleshoot.sources.cells import kind, unit_of
from troubleshoot.sources.heads import CHAMBER, ELSEWHERE, WANTED, unit_in
from troubleshoot.sources.layout import STAMPS, Column, Layout
from troubleshoot.sources.stamps import Stamps, form_of, short_clock, stamps_of

_UNCLEAR_IN_A_NAME = ("bar", "atm", "psi")
_LATE = 1
"""Hours. A clock of two fields that begins later is one of hours and minutes: nobody lets a
stopwatch run before the log begins."""
_SINCE_1970 = 1e9
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
    that count `factor` seconds; `every`: no times, a row every so many seconds."""

    column: Column
    stamps: Stamps | None = None
    factor: float = 1.0
    date: Column | None = None
    every: float | None = None

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
    names = {1.0: "s", 60.0: "min", 3600.0: "h", 1e-3: "ms", 1e-6: "us", 86400.0: "d"}
    return names.get(factor, f"{factor:g} s")


# Times


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
    open_ = [c for c in numbers if c.quantity == "" and c.runs]
    counters = [c for c in numbers if c.quantity == "counter" and c.runs]
    found = next(iter([*named, *open_, *(counters if time_unit else [])]), None)
    filled = [c for c in layout.columns if c.kind in ("number", "void")]
    if found is not None and len(filled) > 1:
        return Times(found, factor=_factor(path, layout, found, time_unit))
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
    if column.quantity == "time" and column.unit:
        if column.units_at is not None and len(set(layout.columns[column.units_at].cells)) > 1:
            raise UserError(f"{path}: the times are written in several units; write them in one.")
        return units.to_si(1, column.unit, "time")
    since_1970 = column.numbers[0] if column.numbers else 0.0
    if since_1970 > _SINCE_1970:
        # No log is of the year 5000: so large a number counts milliseconds.
        return 1e-3 if since_1970 > 100 * _SINCE_1970 else 1.0
    raise NeedsTelling(
        "time",
        f"{path}: the column of times does not say its unit; give it with --time-unit s (or min, "
        "h, ms).",
    )


# Pressures


def pressure_of(path: Path, layout: Layout, times: Times, wanted: str | None) -> Column:
    """The column of pressures. Raises `UserError`, and `NeedsTelling` where several fit."""
    numbers = [
        c
        for c in layout.columns
        if c.kind in ("number", "void") and (c is not times.column or times.every is not None)
    ]
    if wanted is not None:
        return _named(path, numbers, wanted)
    fit = [c for c in numbers if c.quantity == "pressure"]
    # What was wanted, and the air outside, are no readings of the chamber.
    for leave in (WANTED, ELSEWHERE):
        fit = [c for c in fit if not leave.search(c.name)] or fit
    inside = [c for c in fit if CHAMBER.search(c.name)]
    fit = inside if len(fit) > 1 and len(inside) == 1 else fit
    if not fit:
        unnamed = [c for c in numbers if c.quantity == "" and c.kind == "number"]
        fit = [c for c in unnamed if c.name] if any(c.name for c in unnamed) else unnamed
        volts = [c for c in numbers if c.quantity == "voltage"]
        fit = fit or (volts if len(volts) == 1 else [])
    fit = _one_of_twins(fit)
    if len(fit) == 1:
        return fit[0]
    if fit:
        names = tuple(c.name or str(c.place + 1) for c in fit)
        listed = " and ".join(c.called for c in fit)
        raise NeedsTelling(
            "column",
            f"{path}: columns {listed} could each be the pressure of the chamber; say which with "
            f"--column, for instance --column {names[0]!r}.",
            names,
        )
    beside = [c for c in numbers if c.quantity not in ("counter", "time")]
    if beside:
        held = " and ".join(dict.fromkeys(c.quantity for c in beside))
        raise UserError(
            f"{path}: this table holds {held} against time, and neither pressure nor current, of "
            "which logs are read here; a column of pressures can be named with --column."
        )
    raise UserError(
        f"{path}: there is a column of times, but none of pressures; export the gauge reading "
        "with it."
    )


def _named(path: Path, numbers: list[Column], wanted: str) -> Column:
    """The column whose name holds what is wanted, or that has this number."""
    found = [c for c in numbers if c.name.lower() == wanted.lower()]
    found = found or [c for c in numbers if wanted.lower() in c.name.lower()]
    if not found and wanted.isdigit():
        found = [c for c in numbers if c.place + 1 == int(wanted)]
    if not found:
        listed = ", ".join(c.called for c in numbers) or "none"
        raise UserError(f"{path}: no column is called {wanted!r}; the columns are {listed}.")
    if len(found) > 1:
        listed = " and ".join(c.called for c in found)
        raise UserError(f"{path}: {wanted!r} is in the names of {listed}; write more of one.")
    return found[0]


def _one_of_twins(fit: list[Column]) -> list[Column]:
    """Without columns that say the same in another unit."""
    out: list[Column] = []
    for column in fit:
        if not any(_twins(column, other) for other in out):
            out.append(column)
    return out


def _twins(a: Column, b: Column) -> bool:
    if not (unit_of(a.unit, "pressure") and unit_of(b.unit, "pressure")):
        return False
    ratio = units.to_si(1, a.unit, "pressure") / units.to_si(1, b.unit, "pressure")
    pairs = [(x * ratio, y) for x, y in zip(a.numbers, b.numbers, strict=False) if x and y]
    return bool(pairs) and all(abs(x - y) <= 0.02 * abs(y) for x, y in pairs)


def pressure_unit(
    path: Path, column: Column, layout: Layout, told: str | None, scale: GaugeScale | None
) -> tuple[str, str]:
    """What the column of pressures is written in: its dimension ("voltage" for the output of a
    gauge, which `scale` turns into pressures) and its unit."""
    if told is not None:
        try:
            units.to_si(1, told, "pressure")
        except UserError as error:
            raise UserError(f"--unit: {error}") from None
        return "pressure", told
    if column.unit and unit_of(column.unit, "pressure"):
        return "pressure", column.unit
    if column.unit and unit_of(column.unit, "voltage"):
        if scale is not None:
            return "voltage", column.unit
        raise UserError(
            f"{path}: column {column.called} holds volts, which are no pressure; if a gauge puts "
            f"them out, give its scale with --gauge-scale, for instance --gauge-scale {EXAMPLE!r}."
        )
    if column.unit:
        raise UserError(
            f"{path}: column {column.called} holds {column.quantity} in {column.unit}, no "
            "pressure; name the column of pressures with --column."
        )
    bracket = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]", column.name)
    if bracket and not kind(bracket[1]) and not bracket[1].isdigit():
        raise UserError(
            f"{path}: {bracket[1]!r} above the pressures is not a unit of pressure; give the unit "
            "with --unit, for instance --unit mbar."
        )
    said = {unit for row in layout.preface if (unit := unit_in(" ".join(row), "pressure"))}
    if len(said) == 1:
        return "pressure", said.pop()
    found = unit_in(path.stem, "pressure")
    if found and found not in _UNCLEAR_IN_A_NAME:
        return "pressure", found
    raise NeedsTelling(
        "pressure",
        f"{path}: neither the table nor its name says the unit of pressure; give it with --unit "
        "mbar (or Pa, Torr, ...).",
    )


# Currents


def quantities_of(path: Path, layout: Layout, times: Times) -> dict[str, Column]:
    """Current, voltage and pressure, of those that are there with a unit; the current first.

    Of several the first that is no set value. Raises `NeedsTelling` for a current without a unit
    where there are no pressures either.
    """
    numbers = [c for c in layout.columns if c.kind == "number" and c is not times.column]
    found: dict[str, Column] = {}
    for quantity in ("current", "voltage", "pressure"):
        fit = [
            c for c in numbers if c.quantity == quantity and c.unit and unit_of(c.unit, quantity)
        ]
        fit = [c for c in fit if not WANTED.search(c.name)] or fit
        if fit:
            found[quantity] = fit[0]
    nameless = [c for c in numbers if c.quantity == "current" and not c.unit]
    pressures = any(c.quantity == "pressure" for c in numbers)
    if "current" not in found and nameless and not pressures:
        name = nameless[0].name
        raise NeedsTelling(
            "current",
            f"{path}: the column {name!r} does not say its unit; write it into its head, for "
            f"instance '{name} (mA)'.",
        )
    return found
