"""The first lines of a table cut into cells: its delimiter, its head, what each column holds."""

import csv
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from pathlib import Path

from troubleshoot.errors import UserError
from troubleshoot.sources.cells import GROUPED, kind, measured, number, split_unit
from troubleshoot.sources.dialect import split
from troubleshoot.sources.heads import COUNTER, quantity_in
from troubleshoot.sources.text import Text

SAMPLE_LINES = 120
FEWEST_TO_COUNT = 5
"""So many numbers in a row tell a counter from a short table."""
STAMPS = ("dated", "clock", "date")
_COMMENT = re.compile(r"\s*(?:[#%!*]+|//+|'|\"(?=[#%])|;+(?=[^;]*$|\s))\s*")
_RULE = re.compile(r"[-=_+:|]*")
"""A cell of a line that is drawn under a head."""
_REMARK = re.compile(r"\s*\"?(?:[#%!]|//)")


@dataclass(frozen=True)
class Column:
    """One column of the sample.

    `kind`: "number", "dated", "clock", "date", "unit", "void" (nothing but words for "no
    reading") or "". `quantity` and `unit`: by its head, else by its cells or a column of units
    beside it; "counter" is one that counts rows.
    """

    place: int
    name: str
    cells: tuple[str, ...]
    kind: str
    quantity: str = ""
    unit: str = ""
    units_at: int | None = None

    @property
    def called(self) -> str:
        """As messages call it."""
        return repr(self.name) if self.name else f"no. {self.place + 1}"

    @cached_property
    def numbers(self) -> list[float]:
        """The numbers in its cells."""
        return [n for n in map(number, self.cells) if math.isfinite(n)]

    @property
    def differences(self) -> list[float]:
        """How far each number is from the one before."""
        return [b - a for a, b in pairwise(self.numbers)]

    @property
    def counts(self) -> bool:
        """Whether it goes up, or down, by one from row to row."""
        steps = set(self.differences)
        return len(self.numbers) > FEWEST_TO_COUNT and (steps == {1.0} or steps == {-1.0})

    @property
    def runs(self) -> bool:
        """Whether it goes one way only, as time does; a few steps back are a clock set anew."""
        up = sum(step >= 0 for step in self.differences)
        down = sum(step <= 0 for step in self.differences)
        return max(up, down) >= 0.9 * len(self.differences) and len(set(self.numbers)) > 1


@dataclass(frozen=True)
class Layout:
    """The first lines cut into cells. `head`: the lines before the first row of data."""

    delimiter: str
    head: tuple[str, ...]
    preface: tuple[tuple[str, ...], ...]
    columns: tuple[Column, ...]

    def comma(self, columns: Sequence[Column]) -> bool:
        """Whether numbers in these columns have a decimal comma."""
        cells = [split_unit(cell)[0] for column in columns for cell in column.cells]
        if any("," in cell and "." in cell for cell in cells):
            return any(cell.rfind(",") > cell.rfind(".") >= 0 for cell in cells)
        if mark := _grouping(columns):
            return mark == "."
        # Between commas a decimal one stands in quotes.
        return any("," in cell for cell in cells)

    @staticmethod
    def grouped(columns: Sequence[Column]) -> bool:
        """Whether thousands are set apart by a mark that a decimal sign could be taken for."""
        cells = (split_unit(cell)[0] for column in columns for cell in column.cells)
        decimals = any((m := GROUPED.fullmatch(cell)) and m["mark"] in ".," for cell in cells)
        return decimals or bool(_grouping(columns))


def _grouping(columns: Sequence[Column]) -> str:
    """The mark between thousands of whole numbers (`950`, `1,000`), if there is one; else "".

    Every number with the mark has three digits after it. It is no decimal sign where the other one
    is, or where a column that holds numbers without it goes on more evenly with thousands.
    """
    cells = [[c for cell in column.cells if (c := split_unit(cell)[0])] for column in columns]
    for mark, other in (",.", ".,"):
        flat = [cell for column in cells for cell in column]
        if not all(_thousands(cell, mark) for cell in flat if mark in cell):
            continue
        if any(mark in c for c in flat) and any(
            other in c and not _thousands(c, other) for c in flat
        ):
            return mark
        whole = [[c for c in column if c.isdigit() or mark in c] for column in cells]
        if any(_uneven(c, mark, "") < _uneven(c, mark, ".") for c in whole):
            return mark
    return ""


def _thousands(cell: str, mark: str) -> bool:
    return re.fullmatch(rf"[1-9]\d{{0,2}}\{mark}\d{{3}}", cell) is not None


def _uneven(cells: list[str], mark: str, means: str) -> float:
    """How far numbers jump, all steps together, on the scale of logarithms, to a hundredth."""
    numbers = (float(cell.replace(mark, means)) for cell in cells)
    logs = [math.log(number) for number in numbers if number > 0]
    return round(sum(abs(b - a) for a, b in pairwise(logs)), 2)


def layout_of(path: Path, text: Text, *, alone: bool = False) -> Layout:
    """How the table in a text is laid out.

    `alone`: one column of numbers is enough. Raises `UserError` where no row holds a time and a
    number.
    """
    fewest = 1 if alone else 2
    lines = text.lines
    for start in range(0, max(1, len(lines)), SAMPLE_LINES // 2):
        window = lines[start : start + SAMPLE_LINES]
        try:
            delimiter, rows = _delimiter(window, fewest)
        except csv.Error as error:
            raise UserError(f"{path}: this is not a table of numbers ({error}).") from None
        kinds = _kinds(window, rows)
        first = _first_row(kinds, fewest)
        if first is not None:
            break
    else:
        raise UserError(_nothing(path, lines))
    before = [_uncommented(line, delimiter) for line in lines[:start]]
    preface = [*split(before, delimiter), *rows[:first]]
    data = [i for i in range(first, len(rows)) if _is_data(kinds[i], fewest)]
    width = Counter(len(rows[i]) for i in data).most_common(1)[0][0]
    rows = [rows[i] for i in data]
    _refuse_double_comma(path, delimiter, rows, preface, width)
    columns = [_column(place, rows) for place in range(width)]
    if delimiter == " ":
        said = [_uncommented(line, delimiter) for line in lines[: start + first]]
        preface = _heads_of_words(said, width)
    names = _names(preface, columns, delimiter)
    return Layout(
        delimiter,
        tuple(lines[: start + first]),
        tuple(map(tuple, preface)),
        _with_quantities(columns, names),
    )


def _uncommented(line: str, delimiter: str) -> str:
    """A line of the head without the sign that it is a comment."""
    sign = _COMMENT.match(line)
    if sign is None or (delimiter == ";" and ";" in sign[0]):
        return line
    rest = line[sign.end() :]
    if '"' in sign[0] and line.count('"') % 2 == 0 and line.count('"') > 2:
        return line  # cells in quotes, the first of which begins with such a sign
    return rest.removesuffix('"') if '"' in sign[0] or rest.count('"') == 1 else rest


def _delimiter(lines: list[str], fewest: int) -> tuple[str, list[list[str]]]:
    """The delimiter under which most cells are numbers or times, and the lines so divided."""
    best: tuple[float, str, list[list[str]]] = (-math.inf, ",", [])
    for delimiter in "\t;,| ":
        rows = list(split([_uncommented(line, delimiter) for line in lines], delimiter))
        score = 0.0
        for row, kinds in zip(rows, _kinds(lines, rows), strict=False):
            if _is_data(kinds, fewest):
                good = sum(k not in ("", "unit") for k in kinds)
                # A date with its clock beside it is one stamp, whatever divides them.
                good -= ("date", "clock") in pairwise(kinds)
                odd = sum(not k and bool(cell.strip()) for k, cell in zip(kinds, row, strict=True))
                score += good - 0.5 * odd
            elif not any(kinds) and len(row) == len(rows[-1]) > 1:
                score += 0.5  # a head of as many columns as the rows have
        # Of equals the one with fewer columns: a blank inside a time stamp is no delimiter.
        if score > best[0]:
            best = (score, delimiter, rows)
    return best[1], best[2]


def _kinds(lines: list[str], rows: list[list[str]]) -> list[list[str]]:
    """What each cell is; a line that is marked as a remark holds no data."""
    remarks = [_REMARK.match(line) is not None for line in lines]
    return [
        [""] * len(row) if remark else [kind(cell) for cell in row]
        for row, remark in zip(rows, remarks, strict=False)
    ]


def _is_data(kinds: list[str], fewest: int) -> bool:
    """Whether a row holds a stamp or a number, and enough of what a log is made of."""
    told = sum(k in ("number", *STAMPS) for k in kinds)
    return told >= 1 and told + kinds.count("void") >= fewest


def _first_row(kinds: list[list[str]], fewest: int) -> int | None:
    """The first row of data; a line of the head with a date in it looks otherwise than most."""

    def shape(row: list[str]) -> tuple[str, ...]:
        return tuple("number" if k == "void" else k for k in row)

    rows = [i for i, row in enumerate(kinds) if _is_data(row, fewest)]
    if not rows:
        return None
    widths = Counter(len(kinds[i]) for i in rows)
    width, _ = widths.most_common(1)[0]
    starts = Counter(shape(kinds[i])[:2] for i in rows)
    start, _ = starts.most_common(1)[0]
    alike = (i for i in rows if len(kinds[i]) == width and shape(kinds[i])[:2] == start)
    return next(alike, rows[0])


def _column(place: int, rows: list[list[str]]) -> Column:
    cells = tuple(row[place].strip() for row in rows if place < len(row))
    kinds = Counter(filter(None, map(kind, cells)))
    void = kinds.pop("void", 0)
    commonest = kinds.most_common(1)[0][0] if kinds else "void" if void else ""
    filled = sum(map(bool, cells))
    enough = kinds.total() + void > filled / 2 and filled
    return Column(place, "", cells, commonest if enough else "")


def _heads_of_words(lines: list[str], width: int) -> list[list[str]]:
    """Lines of the head cut at blanks; where a line is drawn under each column, by their places."""
    spans = next((s for line in lines if (s := _drawn(line)) and len(s) == width), None)
    if spans is None:
        return [_words(line, width) for line in lines]
    return [_placed(line, spans) for line in lines if not _drawn(line)]


def _drawn(line: str) -> list[tuple[int, int]]:
    """Where the strokes of a line like `---- ------` are."""
    words = list(re.finditer(r"\S+", line))
    return [m.span() for m in words] if all(set(m[0]) <= set("-=_+|") for m in words) else []


def _placed(line: str, spans: list[tuple[int, int]]) -> list[str]:
    """Words of a line under the column that each lies over, most of all."""
    cells = [""] * len(spans)
    for match in re.finditer(r"\S+", line):
        shared = [min(match.end(), b) - max(match.start(), a) for a, b in spans]
        place = max(range(len(spans)), key=shared.__getitem__)
        cells[place] = f"{cells[place]} {match[0]}".strip()
    return cells


def _words(line: str, width: int) -> list[str]:
    """A line of the head cut at blanks: those before a bracket, and single ones, may be inside a
    name."""
    words = next(split([line], " "), [])
    bracketed = re.findall(r"\S+(?:\s+[\[(][^\])]*[\])])?", line)
    for cells in (words, bracketed, re.split(r"\s{2,}", line.strip())):
        if len(cells) <= width:
            return cells
    return words


def _names(preface: list[list[str]], columns: list[Column], delimiter: str) -> list[str]:
    """What stands above each column: a name, perhaps a unit in a line of its own."""
    width = len(columns)
    heads: list[list[str]] = []
    for row in reversed(preface):
        cells = [cell.strip() for cell in row]
        if all(_RULE.fullmatch(c) for c in cells) and not (heads and not any(cells)):
            continue
        if delimiter == " " and len(row) > width:
            break
        wordy = any(c and kind(c) in ("", "unit") for c in cells)
        if not wordy or any(kind(c) == "number" for c in cells if not c.isdigit()):
            break
        if len(row) < 2 <= width or (heads and sum(map(bool, cells)) < 2 <= width):
            break
        if heads and len(row) < len(heads[0]):
            break
        heads.insert(0, cells)
        only_units = all(kind(c) == "unit" or not c or _is_unit_alone(c) for c in cells)
        if len(heads) == 2 or (width <= 2 and not only_units):
            break
    wide = max(map(len, heads), default=0)
    # A table of a statistics program leaves its nameless first column out of the head.
    shift = wide == width - 1 and columns[0].counts and (
        columns[1].kind in STAMPS or (columns[1].runs and not columns[1].counts)
    )  # fmt: skip
    cells_of = ([""] * shift + head + [""] * width for head in heads)
    return [" ".join(filter(None, names)) for names in zip(*cells_of, strict=False)][:width] or [
        ""
    ] * width


def _is_unit_alone(cell: str) -> bool:
    """Whether a cell of a head is a unit, perhaps in brackets, or a dash for none."""
    bare = cell.strip("[](){}<>/- ")
    return not bare or bool(measured(bare)[0]) or bare in ("%", "hh:mm:ss")


def _with_quantities(columns: list[Column], names: list[str]) -> tuple[Column, ...]:
    out = []
    for column, name in zip(columns, names, strict=True):
        quantity, unit = quantity_in(name) if column.kind not in STAMPS else ("time", "")
        units_at = None
        if column.kind in ("number", "void"):
            if not unit:
                quantity, unit = _by_cells(column, quantity, unit)
            after = columns[column.place + 1] if column.place + 1 < len(columns) else None
            if not unit and after is not None and after.kind == "unit":
                said, unit = _commonest_unit(after)
                units_at = after.place
                quantity = quantity or said
            nameless = quantity in ("", "time") and not unit
            if nameless and (COUNTER.search(name) or (not quantity and column.counts)):
                quantity = "counter"
        out.append(Column(column.place, name, column.cells, column.kind, quantity, unit, units_at))
    return tuple(out)


def _by_cells(column: Column, quantity: str, unit: str) -> tuple[str, str]:
    """Quantity and unit by what stands behind the numbers."""
    parts = [split_unit(cell) for cell in column.cells]
    found = Counter(measured(rest) for _, rest in parts if rest)
    found.pop(("", ""), None)
    # Here and there a unit is a slip, or a letter of another language of numbers.
    if found.total() <= sum(bool(written) for written, _ in parts) / 2:
        return quantity, unit
    (said, written), _ = found.most_common(1)[0]
    return (quantity or said, written) if quantity in ("", said, "pressure") else (quantity, unit)


def _commonest_unit(column: Column) -> tuple[str, str]:
    found = Counter(m for m in map(measured, column.cells) if m[0])
    return found.most_common(1)[0][0]


def _nothing(path: Path, lines: list[str]) -> str:
    """Why no row of data was found."""
    if any(_is_data([kind(line)], 1) for line in lines[:SAMPLE_LINES]):
        return (
            f"{path}: no line holds a time and a pressure, only one number; say the time from row "
            "to row with --every, for instance --every 1s."
        )
    return (
        f"{path}: no line holds a time and a pressure; give a table with one column of times and "
        "one of pressures."
    )


def _refuse_double_comma(
    path: Path, delimiter: str, rows: list[list[str]], preface: list[list[str]], width: int
) -> None:
    """`0,5,1013,2` cut at every comma gives four columns of whole numbers: nobody can tell."""
    whole = all(re.fullmatch(r"\s*\d+\s*", cell) for row in rows for cell in row)
    named = any(len(row) == width for row in preface)
    halved = any(len(row) * 2 == width for row in preface)
    # A fraction such as 0500 in a column of its own, or three columns under two names.
    padded = any(re.fullmatch(r"\s*0\d+\s*", cell) for row in rows for cell in row)
    named_two = any(len(row) == 2 and all(map(str.strip, row)) for row in preface)
    if not (delimiter == "," and whole):
        return
    torn = width == 3 and named_two and not named and (padded or not _counts_rows(rows))
    if torn or (width == 4 and (halved or not named)):
        raise UserError(
            f"{path}: commas stand both inside numbers and between them; export with semicolons "
            "or with decimal points."
        )


def _counts_rows(rows: list[list[str]]) -> bool:
    """Whether the first cells count the rows."""
    first = [int(row[0]) for row in rows if row]
    return all(b - a == 1 for a, b in pairwise(first))
