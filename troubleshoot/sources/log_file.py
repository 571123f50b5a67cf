"""Tables of time and pressure, as loggers write them, read in blocks and in bounded memory.

What a table looks like (encoding, delimiter, decimal sign, header, which columns, units) is settled
from its first lines; then `rows` reads it block by block. Points that tell the same are merged on
the way, so a log of any length ends as a few thousand points, each with the number of rows it
stands for.
"""

import csv
import hashlib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from troubleshoot import units
from troubleshoot.errors import UserError
from troubleshoot.physics.gases import ATMOSPHERE
from troubleshoot.sources.cells import CLOCK, DATE_CLOCK, DAY, NUMBER, is_unit
from troubleshoot.sources.points import Points, display_step
from troubleshoot.sources.rows import Dialect, Floats, blocks, split
from troubleshoot.sources.text import first_lines

SAMPLE_LINES = 120
TOO_HIGH = 2 * ATMOSPHERE
"""No chamber of glass holds more: a reading above it is the gauge's sign for "off scale"."""
MOST_ROWS = 2_000_000
"""A log of a discharge lasts minutes and is kept row by row; beyond this it is cut by its owner."""

_ISO = re.compile(
    r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2}(?:[.,]\d+)?)?\s*(?:Z|[+-]\d{2}(?::?\d{2})?)?"
)
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}|\d{1,2}[./-]\d{1,2}[./-]\d{2,4}")
_WORD = re.compile(r"[A-Za-z\u00b5\u03bc]+(?:\s?Hg)?")
_BRACKET = re.compile(r"[\[(/]\s*([^\])/]{1,20})\s*[\])]?")
_TIME_NAME = re.compile(
    r"time|stamp|date|clock|elapsed|second|minute|hour|\bsecs?\b|hh:mm|mm:ss|^t$|^t\W",
    re.IGNORECASE,
)
_PRESSURE_NAME = re.compile(r"press|vac|gauge|torr|bar|^p$|^p\W|\bpa\b|micron", re.IGNORECASE)
_OTHER_NAMES = {
    "current": re.compile(r"current|amp|^i$|^i\W", re.IGNORECASE),
    "voltage": re.compile(r"volt|^u$|^u\W|\bhv\b", re.IGNORECASE),
}
_WANTED_NAME = re.compile(r"set|demand|target|limit", re.IGNORECASE)
_ELSEWHERE_NAME = re.compile(r"baro|ambient|fore|backing|pump", re.IGNORECASE)
_UNCLEAR_IN_A_NAME = ("bar", "atm", "psi")


@dataclass(frozen=True)
class Log:
    """Pressure against time. `seconds` from the first row, rising; `pascal` above zero.

    `rows_each`: rows that a point stands for. `step`: the smallest step of the display there, in
    Pa (0: too fine to matter). `breaks`: times at which the log starts anew (several files in
    one). `notes`: what was left out and why, for the operator.
    """

    source: str
    sha256: str
    seconds: Floats
    pascal: Floats
    rows_each: Floats
    step: Floats
    rows: int
    unit: str
    notes: tuple[str, ...] = ()
    breaks: tuple[float, ...] = ()
    typed: bool = False


class NeedsUnit(UserError):
    """The table does not say a unit: `what` is "pressure" or "time"."""

    def __init__(self, what: str, message: str) -> None:
        super().__init__(message)
        self.what = what


def read_log(
    path: Path, unit: str | None = None, time_unit: str | None = None, column: str | None = None
) -> Log:
    """Read a pressure log.

    `unit` and `time_unit` overrule what the file says; `column` names the pressure column where
    there are several. Raises `UserError` for what is not such a log, and `NeedsUnit` if the file,
    its name and the arguments all leave a unit open.
    """
    encoding, lines = first_lines(path)
    dialect, shown = _dialect(path, encoding, lines, unit, time_unit, column)
    pascal_each = units.to_si(1, shown, "pressure")
    points, state = Points(), _Counts()
    for raw, pressure in blocks(path, dialect):
        state.rows += len(raw)
        seconds = _continuous(raw, dialect, state)
        points.add(*_usable(seconds, pressure[:, 0] * pascal_each, state))
    seconds, log_p, weight = points.finished()
    _check(path, state, len(seconds))
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    pascal = np.exp(log_p)
    start = seconds[0]
    return Log(
        source=path.name,
        sha256=digest,
        seconds=seconds - start,
        pascal=pascal,
        rows_each=weight,
        step=display_step(pascal),
        rows=state.rows,
        unit=shown,
        notes=state.notes(points.glitches),
        breaks=tuple(b - start for b in state.breaks),
    )


@dataclass(frozen=True)
class Table:
    """Several quantities against time, row by row in SI; nan where a cell was not readable.

    `columns`: of "current", "voltage" and "pressure" those that are there; `shown`: the unit that
    each was written in.
    """

    source: str
    sha256: str
    seconds: Floats
    columns: Mapping[str, Floats]
    shown: Mapping[str, str]
    notes: tuple[str, ...] = ()


def read_table(path: Path, time_unit: str | None = None) -> Table | None:
    """Read a log of a discharge; None if no column of the table is a current.

    A column counts where its head holds a unit of current, voltage or pressure; of several the
    first one that is no set value. Raises `UserError` for what cannot be read, and `NeedsUnit` for
    a current, or times, without a unit.
    """
    encoding, lines = first_lines(path)
    layout = _layout(path, lines)
    found = _quantities(path, layout)
    if "current" not in found:
        return None
    kind, factor = _time_kind(path, layout, time_unit)
    places = tuple(column for column, _ in found.values())
    dialect = Dialect(
        encoding=encoding,
        delimiter=layout.delimiter,
        comma=layout.comma((layout.time, *places)),
        first=layout.first,
        time=layout.time,
        values=places,
        kind=kind,
        factor=factor,
    )
    state = _Counts()
    seconds, values = [], []
    for raw, block in blocks(path, dialect):
        state.rows += len(raw)
        if state.rows > MOST_ROWS:
            raise UserError(
                f"{path}: more than {MOST_ROWS} rows; cut the log to one coating and read that."
            )
        seconds.append(_continuous(raw, dialect, state))
        values.append(block)
    t, cells = np.concatenate(seconds), np.concatenate(values)
    good = np.isfinite(t) & np.isfinite(cells[:, 0])
    state.unreadable = int((~good).sum())
    if good.sum() < 3:
        raise UserError(
            f"{path}: only {int(good.sum())} rows hold a time and a current; at least three are "
            "needed."
        )
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    t = _spread(t[good])
    return Table(
        source=path.name,
        sha256=digest,
        seconds=t - t[0],
        columns={
            name: cells[good, n] * units.to_si(1, unit, name)
            for n, (name, (_, unit)) in enumerate(found.items())
        },
        shown={name: unit for name, (_, unit) in found.items()},
        notes=tuple(n.replace("time or pressure", "time or current") for n in state.notes(0)),
    )


# The first lines


def _kind(cell: str) -> str:
    """What a cell is: number, iso, dated, clock, date, or nothing of these."""
    cell = cell.strip()
    match = NUMBER.match(cell)
    if match and (match.end() == len(cell) or is_unit(cell[match.end() :])):
        return "number"
    if _ISO.fullmatch(cell):
        return "iso"
    if DATE_CLOCK.fullmatch(cell):
        return "dated"
    if CLOCK.fullmatch(cell):
        return "clock"
    return "date" if _DATE.fullmatch(cell) else ""


def _dialect(
    path: Path,
    encoding: str,
    lines: list[str],
    unit: str | None,
    time_unit: str | None,
    column: str | None,
) -> tuple[Dialect, str]:
    """How a pressure log is written, and the unit of its pressures."""
    table = _layout(path, lines)
    rows, data, names = table.rows, table.data, table.names
    pressure = _pressure_column(path, names, table.column_kind, table.time, column)
    cells = [rows[i][pressure] for i in data if pressure < len(rows[i])]
    comma = table.comma((table.time, pressure))
    comma = comma or any(re.fullmatch(r"\d+,\d+.*", c.strip()) for c in cells)
    kind, factor = _time_kind(path, table, time_unit)
    dialect = Dialect(
        encoding=encoding,
        delimiter=table.delimiter,
        comma=comma,
        first=table.first,
        time=table.time,
        values=(pressure,),
        kind=kind,
        factor=factor,
    )
    return dialect, _pressure_unit(path, names[pressure], rows[: table.first], cells, unit)


@dataclass(frozen=True)
class _Layout:
    """The first lines cut into cells; `data`: the lines that hold a time and a number."""

    delimiter: str
    rows: list[list[str]]
    kinds: list[list[str]]
    data: list[int]
    names: list[str]
    column_kind: list[str]
    time: int

    @property
    def first(self) -> int:
        return self.data[0]

    def comma(self, columns: Sequence[int]) -> bool:
        """Whether numbers in these columns have a decimal comma."""
        return self.delimiter != "," and any(
            "," in self.rows[i][c]
            for i in self.data
            for c in columns
            if c < len(self.rows[i]) and self.kinds[i][c] == "number"
        )


def _layout(path: Path, lines: list[str]) -> _Layout:
    try:
        delimiter, rows = _delimiter(lines)
    except csv.Error as error:
        raise UserError(f"{path}: this is not a table of numbers ({error}).") from None
    kinds = [[_kind(cell) for cell in row] for row in rows]
    data = [i for i, row in enumerate(kinds) if sum(map(bool, row)) >= 2]
    if not data:
        raise UserError(
            f"{path}: no line holds a time and a pressure; give a table with one column of times "
            "and one of pressures."
        )
    width = max(len(rows[i]) for i in data[:20])
    seen = [[kinds[i][c] for i in data if c < len(kinds[i]) and kinds[i][c]] for c in range(width)]
    column_kind = [max(set(s), key=s.count) if len(s) > len(data) / 2 else "" for s in seen]
    names = _names(rows[: data[0]], width)
    _refuse_double_comma(path, delimiter, rows, data, names)
    time = _time_column(path, names, column_kind)
    return _Layout(delimiter, rows, kinds, data, names, column_kind, time)


def _time_kind(path: Path, table: _Layout, time_unit: str | None) -> tuple[str, float]:
    """How times are written ("number", "clock", "iso", "dated"), and the factor of numbers."""
    kind = table.column_kind[table.time]
    cells = [table.rows[i][table.time] for i in table.data if table.time < len(table.rows[i])]
    if kind == "clock":
        kind = _clock_kind(path, cells, time_unit)
    if kind == "number":
        return kind, _time_factor(path, table.names[table.time], cells, time_unit)
    if kind in ("hh:mm", "mm:ss"):
        return "clock", 60.0 if kind == "hh:mm" else 1.0
    return kind, 1.0


def _delimiter(lines: list[str]) -> tuple[str, list[list[str]]]:
    """The delimiter under which most cells are numbers or times, and the lines so divided."""
    lines = [line.lstrip("# ") for line in lines[:SAMPLE_LINES]]
    best: tuple[float, str, list[list[str]]] = (-1.0, ",", [])
    for delimiter in "\t;,| ":
        rows = list(split(lines, delimiter))
        score = 0.0
        for row in rows:
            kinds = [bool(_kind(cell)) for cell in row if cell.strip()]
            if sum(kinds) >= 2:
                score += sum(kinds) - 0.5 * (len(kinds) - sum(kinds))
            elif not any(kinds) and rows and len(row) == len(rows[-1]) > 1:
                score += 0.5  # a head of as many columns as the rows have
        # Of equals the one with fewer columns: a blank inside a time stamp is no delimiter.
        if score > best[0]:
            best = (score, delimiter, rows)
    return best[1], best[2]


def _names(rows: list[list[str]], width: int) -> list[str]:
    """What stands above each column: a name, perhaps a unit in a line of its own."""
    heads = [row for row in rows if len(row) == width and any(c.strip() for c in row)][-2:]
    return [" ".join(row[c].strip() for row in heads) for c in range(width)]


def _time_column(path: Path, names: list[str], kinds: list[str]) -> int:
    for kind in ("iso", "dated", "clock"):
        if kind in kinds:
            return kinds.index(kind)
    numbers = [c for c, kind in enumerate(kinds) if kind == "number"]
    named = [c for c in numbers if _TIME_NAME.search(names[c])]
    if named:
        return named[0]
    other = [c for c in numbers if not _PRESSURE_NAME.search(names[c])]
    if len(numbers) < 2 or not other:
        raise UserError(
            f"{path}: one column of numbers is not enough; give a column of times and one of "
            "pressures."
        )
    return other[0]


def _pressure_column(
    path: Path, names: list[str], kinds: list[str], time: int, wanted: str | None
) -> int:
    numbers = [c for c, kind in enumerate(kinds) if kind == "number" and c != time]
    if not numbers:
        raise UserError(
            f"{path}: there is a column of times, but none of pressures; export the gauge reading "
            "with it."
        )
    if wanted is not None:
        found = [c for c in numbers if wanted.lower() in names[c].lower()]
        if not found:
            listed = ", ".join(repr(names[c]) for c in numbers if names[c]) or "without names"
            raise UserError(f"{path}: no column is called {wanted!r}; the columns are {listed}.")
        return found[0]
    named = [c for c in numbers if _PRESSURE_NAME.search(names[c])] or numbers
    # What was wanted, and the air outside, are no readings of the chamber.
    shown = [
        c for c in named if not (_WANTED_NAME.search(names[c]) or _ELSEWHERE_NAME.search(names[c]))
    ]
    return (shown or named)[0]


def _refuse_double_comma(
    path: Path, delimiter: str, rows: list[list[str]], data: list[int], names: list[str]
) -> None:
    """`0,5,1013,2` cut at every comma gives four columns of whole numbers: nobody can tell."""
    width = len(rows[data[0]])
    whole = all(re.fullmatch(r"\s*\d+\s*", cell) for i in data for cell in rows[i])
    halved = any(len(row) * 2 == width for row in rows[: data[0]])
    if delimiter == "," and width == 4 and whole and (halved or not any(names)):
        raise UserError(
            f"{path}: commas stand both inside numbers and between them; export with semicolons "
            "or with decimal points."
        )


def _clock_kind(path: Path, cells: list[str], time_unit: str | None) -> str:
    if any(m[3] for m in map(CLOCK.fullmatch, map(str.strip, cells)) if m):
        return "clock"
    if time_unit in ("hh:mm", "mm:ss"):
        return time_unit
    raise NeedsUnit(
        "time",
        f"{path}: times such as {cells[0].strip()!r} can be hours:minutes or minutes:seconds; say "
        "which with --time-unit hh:mm or --time-unit mm:ss.",
    )


def _time_factor(path: Path, name: str, cells: list[str], time_unit: str | None) -> float:
    if time_unit is not None:
        try:
            return units.to_si(1, time_unit, "time")
        except UserError as error:
            raise UserError(f"--time-unit: {error}") from None
    found = _unit_in(name, "time") or next(filter(None, (_cell_unit(c, "time") for c in cells)), "")
    if found:
        return units.to_si(1, found, "time")
    numbers = [m[0] for m in map(NUMBER.match, map(str.strip, cells)) if m]
    since_1970 = float(numbers[0].replace(",", ".")) if numbers else 0.0
    if since_1970 > 1e9:
        # No log is of the year 5000: so large a number counts milliseconds.
        return 1e-3 if since_1970 > 1e11 else 1.0
    raise NeedsUnit(
        "time",
        f"{path}: the column of times does not say its unit; give it with --time-unit s (or min, "
        "h, ms).",
    )


def _pressure_unit(
    path: Path, name: str, preface: list[list[str]], cells: list[str], unit: str | None
) -> str:
    if unit is not None:
        try:
            units.to_si(1, unit, "pressure")
        except UserError as error:
            raise UserError(f"--unit: {error}") from None
        return unit
    found = _unit_in(name, "pressure")
    if found:
        return found
    bracket = re.search(r"[\[(]\s*([^\])]+?)\s*[\])]", name)
    if bracket:
        raise UserError(
            f"{path}: {bracket[1]!r} above the pressures is not a unit of pressure; give the unit "
            "with --unit, for instance --unit mbar."
        )
    texts = [*cells[:5], *(" ".join(row) for row in preface)]
    for text in texts:
        found = _cell_unit(text, "pressure") or _unit_in(text, "pressure")
        if found:
            return found
    found = _unit_in(path.stem, "pressure")
    if found and found not in _UNCLEAR_IN_A_NAME:
        return found
    raise NeedsUnit(
        "pressure",
        f"{path}: neither the table nor its name says the unit of pressure; give it with --unit "
        "mbar (or Pa, Torr, ...).",
    )


def _unit_in(text: str, dimension: str) -> str:
    """The first unit of `dimension` in a text; one in brackets or after a stroke comes first."""
    bracketed = [m[1].strip() for m in _BRACKET.finditer(text)]
    words = _WORD.findall(text.replace("_", " "))
    first = [w for w in words if w not in ("p", "P", "t")]
    return next((w for w in [*bracketed, *first] if is_unit(w, dimension)), "")


def _cell_unit(cell: str, dimension: str) -> str:
    match = NUMBER.match(cell.strip())
    rest = cell.strip()[match.end() :].strip() if match else ""
    return rest if rest and is_unit(rest, dimension) else ""


def _quantities(path: Path, layout: _Layout) -> dict[str, tuple[int, str]]:
    """Current (first), voltage and pressure: the column of each and its unit."""
    found: dict[str, tuple[int, str]] = {}
    nameless = None
    pressures = False
    for column, name in enumerate(layout.names):
        if column == layout.time or layout.column_kind[column] != "number":
            continue
        pressures = pressures or bool(_PRESSURE_NAME.search(name))
        quantity, unit = _quantity(name)
        if quantity == "current" and not unit:
            nameless = name
        if not unit or (quantity in found and _WANTED_NAME.search(name)):
            continue
        if quantity not in found or _WANTED_NAME.search(layout.names[found[quantity][0]]):
            found[quantity] = column, unit
    if "current" not in found and nameless is not None and not pressures:
        raise NeedsUnit(
            "current",
            f"{path}: the column {nameless!r} does not say its unit; write it into its head, for "
            f"instance '{nameless} (mA)'.",
        )
    first = {"current": found.pop("current")} if "current" in found else {}
    return {**first, **found}


def _quantity(name: str) -> tuple[str, str]:
    """What a column holds by its head, and the unit there ("" if it has none)."""
    bracketed = [m[1].strip() for m in _BRACKET.finditer(name)]
    for quantity in ("pressure", "current", "voltage"):
        unit = next((b for b in bracketed if is_unit(b, quantity)), "")
        if unit:
            return quantity, unit
    if _PRESSURE_NAME.search(name):
        return "pressure", _unit_in(name, "pressure")
    for quantity, pattern in _OTHER_NAMES.items():
        if pattern.search(name):
            return quantity, _unit_in(name, quantity)
    return "", ""


# The rows


@dataclass
class _Counts:
    """What is carried from block to block."""

    rows: int = 0
    unreadable: int = 0
    negative: int = 0
    zero: int = 0
    off_scale: int = 0
    last: float = math.nan
    shift: float = 0.0
    step: float = 0.0
    breaks: list[float] = field(default_factory=list)

    def notes(self, glitches: int) -> tuple[str, ...]:
        told = (
            (self.unreadable, "{} without a readable time or pressure"),
            (self.negative, "{} below zero"),
            (self.zero, "{} at zero, which is the floor of the gauge's scale"),
            (self.off_scale, "{} above two atmospheres, which is the gauge's sign for off scale"),
            (glitches, "{} that jumped for a single reading"),
        )
        left_out = "; ".join(text.format(_rows(n)) for n, text in told if n)
        notes = [f"Left out: {left_out}."] if left_out else []
        if self.breaks:
            times = "once" if len(self.breaks) == 1 else f"{len(self.breaks)} times"
            notes.append(f"The clock starts anew {times}: read as parts in a row.")
        return tuple(notes)


def _rows(n: int) -> str:
    return "1 row" if n == 1 else f"{n} rows"


def _continuous(raw: Floats, dialect: Dialect, state: _Counts) -> Floats:
    """Times that never go back: a clock passes midnight, a counter that starts anew is a break."""
    good = np.flatnonzero(np.isfinite(raw))
    out = np.full(len(raw), math.nan)
    if not len(good):
        return out
    times = raw[good]
    ahead = np.diff(times, prepend=state.last if math.isfinite(state.last) else times[0])
    forward = ahead[ahead > 0]
    if len(forward):
        state.step = float(np.median(forward))
    back = np.flatnonzero(ahead < 0)
    midnight = (ahead[back] <= -DAY / 2) & (dialect.kind == "clock")
    # Where a counter starts anew, the next part follows after a pause of a few readings.
    jumps = np.zeros(len(times))
    jumps[back] = np.where(midnight, DAY, -ahead[back] + 5 * state.step)
    shift = np.cumsum(jumps)
    anew = back[~midnight]
    state.breaks += (times[anew] + state.shift + shift[anew]).tolist()
    out[good] = times + state.shift + shift
    state.last = float(times[-1])
    state.shift += float(shift[-1])
    return out


def _usable(seconds: Floats, pascal: Floats, state: _Counts) -> tuple[Floats, Floats]:
    readable = np.isfinite(seconds) & np.isfinite(pascal)
    state.unreadable += int((~readable).sum())
    state.negative += int((readable & (pascal < 0)).sum())
    state.zero += int((readable & (pascal == 0)).sum())
    state.off_scale += int((readable & (pascal > TOO_HIGH)).sum())
    good = readable & (pascal > 0) & (pascal <= TOO_HIGH)
    return seconds[good], np.log(pascal[good])


def _spread(seconds: Floats) -> Floats:
    """Rows that share a stamp, spread evenly up to the next one."""
    first = np.flatnonzero(np.diff(seconds, prepend=-np.inf) > 0)
    if len(first) == len(seconds):
        return seconds
    step = float(np.median(np.diff(seconds[first]))) if len(first) > 1 else 1.0
    places, stamps = np.append(first, len(seconds)), np.append(seconds[first], seconds[-1] + step)
    return np.interp(np.arange(len(seconds)), places, stamps)


def _check(path: Path, state: _Counts, points: int) -> None:
    if state.negative > 0.01 * state.rows:
        raise UserError(
            f"{path}: {_rows(state.negative)} of {state.rows} hold a pressure below zero; export "
            "absolute pressures, for a gauge against the atmosphere cannot be used."
        )
    if state.unreadable > 0.5 * state.rows:
        raise UserError(
            f"{path}: {_rows(state.unreadable)} of {state.rows} hold no time and pressure that "
            "can be read; export one column of times and one of pressures."
        )
    if points < 3:
        raise UserError(
            f"{path}: only {points} usable readings; at least three times and pressures are needed."
        )
