"""Rows of a table as times and numbers, read in blocks and in bounded memory.

What a single cell says is settled in `cells`; here the same comes out for millions of them. Lines
go to numpy a piece at a time. It refuses a piece in which a cell is no number; then the csv module
cuts the piece, each cell is read on its own, and what numpy refused is mended in the text of the
pieces to come: a unit is struck out, `OVER` or `---` becomes `nan`. Loggers repeat themselves, so
hardly any piece needs the csv module twice. Of stamps only the first of each minute is worked out.
"""

import csv
import io
import math
import re
import warnings
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from itertools import chain, product
from operator import itemgetter
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from troubleshoot import units
from troubleshoot.errors import UserError
from troubleshoot.regular_file import open_regular
from troubleshoot.sources.cells import measured, split_unit, unit_of, value
from troubleshoot.sources.dialect import Dialect, Value, split
from troubleshoot.sources.heads import unit_in
from troubleshoot.sources.kept import Kept
from troubleshoot.sources.many_stamps import WIDEST_STAMP, ManyStamps, joined

Floats = NDArray[np.float64]

BLOCK = 1 << 21
"""Characters read at a time."""
PIECE = 1 << 15
"""Characters that numpy takes, or refuses, together."""
MOST_MENDED = 16
"""Oddities mended in the text; each costs a search through it."""
WIDEST_UNIT = 16
MOST_HEAD = 8
"""Last lines of a head that are known again when they come a second time."""


def blocks(
    path: Path, dialect: Dialect, words: set[str] | None = None
) -> Iterator[tuple[Floats, Floats]]:
    """Times in s, as they are written, and values (one row each); what cannot be read is nan.

    Blank rows, and lines of the head that come again, are left out. What stands in the place of a
    number and is none is added to `words`. Raises `UserError` where a quote is never closed, and
    where a second head says another unit.
    """
    reader = _Reader(path, dialect, set() if words is None else words)
    bare = open_regular(path)
    with io.TextIOWrapper(
        bare, encoding=dialect.encoding, errors="replace", newline=None
    ) as stream:
        for _ in range(len(dialect.head) - (dialect.records is not None)):
            next(stream, "")
        while text := stream.read(BLOCK):
            text += stream.readline()
            if dialect.records is not None:
                text = dialect.records.table(text)
            try:
                times, values = zip(*map(reader.read, _pieces(text)), strict=True)
            except csv.Error as error:
                raise UserError(
                    f"{path}: some rows cannot be cut into cells ({error}); take the quotes out of "
                    "the table."
                ) from None
            yield np.concatenate(times), np.concatenate(values)


def _pieces(text: str) -> Iterator[str]:
    """Whole lines, the last one with its end."""
    start = 0
    while start < len(text):
        end = text.find("\n", start + PIECE) + 1 or len(text)
        yield text[start:end].rstrip("\n") + "\n"
        start = end


class _Reader:
    """Reads pieces of one table, and learns from each how to mend the next."""

    def __init__(self, path: Path, dialect: Dialect, words: set[str]) -> None:
        self._path = path
        self._dialect = dialect
        self._words = words
        self._commas = dialect.comma and dialect.delimiter == ","
        self._delimiter = ";" if self._commas else dialect.delimiter
        stamp = f"S{WIDEST_STAMP}"
        said = [v for v in dialect.values if v.units is not None]
        said += [] if dialect.time_units is None else [dialect.time_units]
        row: list[Any] = [] if dialect.date is None else [("date", stamp)]
        row.append(("time", "f8" if dialect.stamps is None else stamp))
        row.append(("values", "f8", (len(dialect.values),)))
        if said:
            row.append(("units", f"S{WIDEST_UNIT}", (len(said),)))
        self._row = np.dtype(row)
        self._units = np.array([v.unit.encode("latin-1", "replace") for v in said])
        self._odd = [Kept(partial(value, dimension=v.dimension, factor=v.factor))
                     for v in dialect.values]  # fmt: skip
        self._odd_times = Kept(partial(value, dimension="time", factor=dialect.factor))
        self._stamps = ManyStamps(dialect.stamps) if dialect.stamps else None
        self._mended: dict[str, str] = {}
        self._learnt: set[tuple[str, str]] = set()
        self._short = self._gaps = False
        rest = self._delimiter.join(["nan"] * max(dialect.columns))
        self._complete = (
            rf"\n([^\n{re.escape(dialect.delimiter)}]+)(?=\n)",
            rf"\n\1{self._delimiter}{rest}",
        )
        last = [line for line in dialect.head if line.strip()][-MOST_HEAD:]
        self._heads = [f"\n{self._plain(line)}\n" for line in last]
        self._head_rows = {tuple(row) for row in split(last, dialect.delimiter)}

    def read(self, text: str) -> tuple[Floats, Floats]:
        """Times and values of a piece."""
        try:
            return self._by_numpy(text)
        except (ValueError, OverflowError, IndexError):
            return self._by_csv(text)

    def _by_numpy(self, text: str) -> tuple[Floats, Floats]:
        """A piece whose cells are numbers, or were mended; raises `ValueError` for another."""
        dialect = self._dialect
        if text.count('"') % 2 or dialect.grouped:
            raise ValueError("a quote too many would swallow lines; marks are no part of a number")
        plain = "\n" + self._plain(text)
        for head in self._heads:
            plain = plain.replace(head, "\n")
        if self._short:
            plain = re.sub(*self._complete, plain)
        for odd, mended in self._mended.items():
            plain = plain.replace(odd, mended)
        if self._commas:
            between = len(next(split([text[: text.index("\n")]], dialect.delimiter), [""])) - 1
            if ";" in text or plain.count(";") != between * text.count("\n"):
                raise ValueError("not every comma between cells was found")
        with warnings.catch_warnings():
            # numpy warns of a piece of blank lines.
            warnings.simplefilter("ignore")
            table = np.loadtxt(
                io.StringIO(plain),
                dtype=self._row,
                delimiter=None if self._delimiter == " " else self._delimiter,
                usecols=dialect.columns,
                quotechar='"',
                comments=None,
                ndmin=1,
            )
        written, values = table["time"], table["values"]
        if len(self._units) and (np.char.strip(table["units"]) != self._units).any():
            raise ValueError("a row in another unit")
        if self._stamps is None:
            times = written * dialect.factor
        elif (np.char.str_len(written) == WIDEST_STAMP).any():
            raise ValueError("perhaps a stamp cut short")
        else:
            if dialect.date is not None:
                written = joined(table["date"], written)
            times = self._stamps.seconds(written, lambda i: str(written[i].decode("latin-1")))
        lost = written[np.isnan(times) & np.isnan(values).all(axis=1)]
        if len(lost) and (self._gaps or b"" in np.char.strip(lost.astype("S"))):
            raise ValueError("perhaps a blank row, which would count as one")
        return times, values

    def _by_csv(self, text: str) -> tuple[Floats, Floats]:
        """Any piece, cell by cell."""
        dialect = self._dialect
        lines = list(io.StringIO(text))
        # With a quote too many each line stands for itself, so that it swallows no other.
        parts = [[line] for line in lines] if text.count('"') % 2 else [lines]
        columns = dialect.columns
        width = 1 + max(columns)
        wanted: Callable[[list[str]], Sequence[str]] = itemgetter(*columns)
        flat: list[str] = []
        for row in chain.from_iterable(split(part, dialect.delimiter) for part in parts):
            self._short |= len(row) == 1
            cells = wanted(row if len(row) >= width else row + [""] * (width - len(row)))
            # Only a row without a time can be blank, so the others need no closer look.
            if (cells[0] > " " or any(map(str.strip, row))) and tuple(row) not in self._head_rows:
                flat += cells
        count = len(columns)
        told = [flat[n::count] for n in range(count)]
        dates = told.pop(0) if dialect.date is not None else None
        times = told.pop(0)
        plain = "\n" + self._plain(text)
        values = np.stack(
            [
                self._numbers(cells, plain, kept)
                for cells, kept in zip(told[: len(dialect.values)], self._odd, strict=True)
            ],
            axis=1,
        )
        # The units of the times come last.
        for n, said in zip(self._told_by_row(), told[len(dialect.values) :], strict=False):
            values[:, n] *= self._ratios(said, dialect.values[n])
        if self._stamps is None:
            with np.errstate(over="ignore"):  # no time that ever was; it is told as unreadable
                seconds = self._numbers(times, plain, self._odd_times) * dialect.factor
            if dialect.time_units is not None:
                seconds *= self._ratios(told[-1], dialect.time_units)
        else:
            if dates is not None:
                times = [f"{day} {clock}" for day, clock in zip(dates, times, strict=True)]
            short = [cell if len(cell) < WIDEST_STAMP else "" for cell in times]
            written = np.array([c.encode("latin-1", "replace") for c in short], f"S{WIDEST_STAMP}")
            seconds = self._stamps.seconds(written, times.__getitem__)
        for n in np.flatnonzero(np.isnan(seconds) & np.isnan(values).all(axis=1)).tolist():
            self._refuse_other_head(flat[n * count : (n + 1) * count])
        return seconds, values

    def _told_by_row(self) -> list[int]:
        """The values whose unit stands in a column of its own."""
        return [n for n, v in enumerate(self._dialect.values) if v.units is not None]

    @staticmethod
    def _ratios(cells: list[str], of: Value) -> Floats:
        """Units of rows over that of the column; nan where a row measures something else."""
        ratio = {"": 1.0}
        for cell in set(cells) - {""}:
            unit = unit_of(cell, of.dimension)
            ratio[cell] = units.to_si(1, unit, of.dimension) / of.factor if unit else math.nan
        return np.array([ratio[cell] for cell in cells])

    def _refuse_other_head(self, cells: list[str]) -> None:
        """Raise `UserError` if a row without numbers names another unit than the head did."""
        first = 1 + (self._dialect.date is not None)
        for cell, known in zip(cells[first:], self._dialect.values, strict=False):
            unit = unit_in(cell, known.dimension)
            if unit and not math.isclose(units.to_si(1, unit, known.dimension), known.factor):
                raise UserError(
                    f"{self._path}: a second head says {cell.strip()!r} where the first one said "
                    f"{known.unit}; cut the log there and read its parts one by one."
                )

    def _plain(self, text: str) -> str:
        """Text with decimal points, and with semicolons where commas beside quotes divide cells.

        Of blanks before a quote numpy would make a cell that begins with a quote.
        """
        if ' "' in text and self._delimiter != " ":
            text = re.sub(rf'(^|{re.escape(self._dialect.delimiter)}) +"', r'\1"', text, flags=re.M)
        if self._commas:
            text = text.replace('",', '";').replace(',"', ';"')
        return text.replace(",", ".") if self._dialect.comma else text

    def _numbers(self, cells: list[str], plain: str, kept: Kept) -> Floats:
        """Numbers of cells; what is odd about them is looked up in the text of their piece."""
        if self._dialect.grouped:
            mark = "." if self._dialect.comma else ","
            cells = [cell.replace(mark, "") for cell in cells]
        if self._dialect.comma:
            cells = [cell.replace(",", ".") for cell in cells]
        found: list[float] = []
        rest = iter(cells)
        while len(found) < len(cells):
            try:
                # What came before a cell that is no number stays in the list.
                found.extend(map(float, rest))
            except ValueError:
                cell = cells[len(found)]
                if cell not in kept:
                    self._learn(cell, kept[cell], plain)
                    if cell.strip() and not math.isfinite(kept[cell]):
                        self._words.add(cell.strip())
                found.append(kept[cell])
        return np.array(found)

    def _learn(self, cell: str, means: float, plain: str) -> None:
        """How an odd cell is mended in the pieces to come: wherever it stands whole in a row."""
        comma = self._delimiter
        odd, mended = cell, "nan"
        if math.isfinite(means):
            written, rest = split_unit(cell)
            if not rest or written not in cell or not self._is_usual(rest):
                return
            odd, mended = cell[cell.index(written) + len(written) :], ""
            places = [("", comma), ("", "\n"), ("", '"')]
        elif cell.strip():
            mended = f"{means:f}"
            places = [*product((comma, comma + " ", "\n"), (comma, "\n")), ('"', '"')]
        else:
            places = [(comma, comma), (comma, "\n")]
        empty = not odd.strip()
        # Two blanks may stand between any cells.
        if (odd, mended) in self._learnt or (empty and (comma == " " or not mended)):
            return
        self._learnt.add((odd, mended))
        self._gaps |= empty
        for start, end in places:
            if start + odd + end in plain and len(self._mended) < MOST_MENDED:
                # A text that keeps its length is replaced faster.
                self._mended[start + odd + end] = start + mended.ljust(len(odd)) + end

    def _is_usual(self, unit: str) -> bool:
        """Whether a unit is that of every column of its kind, so that it can be struck out."""
        dimension, _ = measured(unit)
        factors = {v.factor for v in self._dialect.values if v.dimension == dimension}
        if dimension == "time" and self._dialect.stamps is None:
            factors.add(self._dialect.factor)
        return factors == {units.to_si(1, unit_of(unit, dimension), dimension)}
