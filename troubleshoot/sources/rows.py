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
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import chain, product
from operator import itemgetter
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from troubleshoot.errors import UserError
from troubleshoot.sources.cells import NUMBER, is_unit, number, stamp

Floats = NDArray[np.float64]

BLOCK = 1 << 21
"""Characters read at a time."""
PIECE = 1 << 15
"""Characters that numpy takes, or refuses, together."""
MOST_KEPT = 1 << 14
"""Texts whose meaning is remembered; a day has 1440 minutes."""
MOST_MENDED = 16
"""Oddities mended in the text; each costs a search through it."""
WIDEST_STAMP = 40
SHAPES_KEPT = 3
"""Ways of writing stamps told apart in a piece: with one digit of the hour and with two."""

_TO_SECONDS = re.compile(r"(.*?\d{1,2}:\d{2}:)(\d{2}(?:[.,]\d{1,6})?)(.*)")


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
    """Times in s, as they are written, and values (one row each); what cannot be read is nan.

    Blank rows are left out. Raises `UserError` where a quote is never closed, and where the cells
    name several units of pressure.
    """
    with path.open(encoding=dialect.encoding, errors="replace", newline=None) as stream:
        reader = _Reader(dialect, [next(stream, "") for _ in range(dialect.first)])
        while text := stream.read(BLOCK):
            text += stream.readline()
            try:
                times, values = zip(*map(reader.read, _pieces(text)), strict=True)
            except csv.Error as error:
                raise UserError(
                    f"{path}: some rows cannot be cut into cells ({error}); take the quotes out of "
                    "the table."
                ) from None
            if len(reader.pressure_units) > 1:
                raise UserError(
                    f"{path}: its pressures are written in {' and in '.join(reader.pressure_units)}"
                    "; export them in one unit."
                )
            yield np.concatenate(times), np.concatenate(values)


def _pieces(text: str) -> Iterator[str]:
    """Whole lines, the last one with its end."""
    start = 0
    while start < len(text):
        end = text.find("\n", start + PIECE) + 1 or len(text)
        yield text[start:end].rstrip("\n") + "\n"
        start = end


def split(lines: Iterable[str], delimiter: str) -> Iterator[list[str]]:
    """Lines cut into cells."""
    return csv.reader(lines, delimiter=delimiter, skipinitialspace=True)


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
    """Reads pieces of one table, and learns from each how to mend the next."""

    def __init__(self, dialect: Dialect, head: list[str]) -> None:
        self._dialect = dialect
        self._columns = (dialect.time, *dialect.values)
        self._commas = dialect.comma and dialect.delimiter == ","
        self._delimiter = ";" if self._commas else dialect.delimiter
        time = "f8" if dialect.kind == "number" else f"S{WIDEST_STAMP}"
        self._row = np.dtype([("time", time), ("values", "f8", (len(dialect.values),))])
        self._odd = _Kept(number)
        self._stamps = _Kept(lambda text: stamp(text, dialect.kind, dialect.factor))
        self._mended: dict[str, str] = {}
        self._learnt: set[tuple[str, str]] = set()
        self._short = self._gaps = False
        rest = self._delimiter.join(["nan"] * max(self._columns))
        self._complete = (
            rf"\n([^\n{re.escape(dialect.delimiter)}]+)(?=\n)",
            rf"\n\1{self._delimiter}{rest}",
        )
        heads: dict[str, str] = {}
        for line in head[-2:]:
            # A head that comes again is a row of nothing.
            times, values = self._by_csv(line)
            if len(times) and np.isnan(times).all() and np.isnan(values).all():
                heads[f"\n{self._plain(line)}"] = f"\nnan{self._delimiter}{rest}\n"
        # What a head taught is forgotten, or it would not be learnt from the rows.
        self._odd.clear()
        self._mended, self._learnt, self._short, self._gaps = heads, set(), False, False

    @property
    def pressure_units(self) -> list[str]:
        """The units of pressure that were struck out of cells."""
        struck = {odd.strip() for odd, mended in self._learnt if odd.strip() and not mended}
        return sorted(unit for unit in struck if is_unit(unit, "pressure"))

    def read(self, text: str) -> tuple[Floats, Floats]:
        """Times and values of a piece."""
        try:
            return self._by_numpy(text)
        except (ValueError, OverflowError, IndexError):
            return self._by_csv(text)

    def _by_numpy(self, text: str) -> tuple[Floats, Floats]:
        """A piece whose cells are numbers, or were mended; raises `ValueError` for another."""
        dialect = self._dialect
        if text.count('"') % 2:
            raise ValueError("a quote too many would swallow lines")
        plain = "\n" + self._plain(text)
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
                usecols=self._columns,
                quotechar='"',
                comments=None,
                ndmin=1,
            )
        written, values = table["time"], table["values"]
        if dialect.kind == "number":
            times = written * dialect.factor
        elif (np.char.str_len(written) == WIDEST_STAMP).any():
            raise ValueError("perhaps a stamp cut short")
        else:
            times = self._times(written, lambda i: str(written[i].decode("latin-1")))
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
        width = 1 + max(self._columns)
        wanted: Callable[[list[str]], tuple[str, ...]] = itemgetter(*self._columns)
        flat: list[str] = []
        for row in chain.from_iterable(split(part, dialect.delimiter) for part in parts):
            self._short |= len(row) == 1
            cells = wanted(row if len(row) >= width else row + [""] * (width - len(row)))
            # Only a row without a time can be blank, so the others need no closer look.
            if cells[0] > " " or any(map(str.strip, row)):
                flat += cells
        count = len(self._columns)
        times, *columns = (flat[n::count] for n in range(count))
        plain = "\n" + self._plain(text)
        values = np.stack([self._numbers(cells, plain) for cells in columns], axis=1)
        if dialect.kind == "number":
            return self._numbers(times, plain) * dialect.factor, values
        short = [cell if len(cell) < WIDEST_STAMP else "" for cell in times]
        written = np.array([c.encode("latin-1", "replace") for c in short], f"S{WIDEST_STAMP}")
        return self._times(written, times.__getitem__), values

    def _plain(self, text: str) -> str:
        """Text with decimal points, and with semicolons where commas beside quotes divide cells.

        Of blanks before a quote numpy would make a cell that begins with a quote.
        """
        if ' "' in text and self._delimiter != " ":
            text = re.sub(rf'(^|{re.escape(self._dialect.delimiter)}) +"', r'\1"', text, flags=re.M)
        if self._commas:
            text = text.replace('",', '";').replace(',"', ';"')
        return text.replace(",", ".") if self._dialect.comma else text

    def _numbers(self, cells: list[str], plain: str) -> Floats:
        """Numbers of cells; what is odd about them is looked up in the text of their piece."""
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
                if cell not in self._odd:
                    self._learn(cell, plain)
                found.append(self._odd[cell])
        return np.array(found)

    def _learn(self, cell: str, plain: str) -> None:
        """How an odd cell is mended in the pieces to come: wherever it stands whole in a row."""
        comma = self._delimiter
        odd, mended = cell, "nan"
        match = NUMBER.match(cell)
        if match and not math.isnan(self._odd[cell]):
            odd, mended = cell[match.end() :], ""
            places = [("", comma), ("", "\n"), ("", '"')]
        elif cell.strip():
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

    def _times(self, written: NDArray[np.bytes_], text: Callable[[int], str]) -> Floats:
        """Times of stamps; `text` gives the whole of one.

        Where stamps are written alike to the seconds, these are taken digit by digit, and only the
        first of each minute is read as a stamp. All others are, one by one.
        """
        times = np.full(len(written), math.nan)
        for _ in range(SHAPES_KEPT):
            (rest,) = np.nonzero(np.isnan(times))
            shapes = (_TO_SECONDS.fullmatch(line.decode("latin-1")) for line in written[rest[:9]])
            shape = next(filter(None, shapes), None)
            if shape is None:
                break
            alike, seconds = _seconds_alike(written[rest], shape)
            rest, start = rest[alike], shape.end(1)
            minutes = written[rest].astype(f"S{start}")
            new = _starts(minutes)
            at_start = [
                self._stamps[f"{minute.decode('latin-1')}00{shape[3]}"] for minute in minutes[new]
            ]
            times[rest] = np.repeat(at_start, np.diff(new, append=len(rest))) + seconds[alike]
        (rest,) = np.nonzero(np.isnan(times))
        new = _starts(written[rest])
        found = [self._stamps[text(i)] for i in rest[new].tolist()]
        times[rest] = np.repeat(found, np.diff(new, append=len(rest)))
        return times


def _starts(texts: NDArray[np.bytes_]) -> NDArray[np.intp]:
    """Where another text than the one before begins."""
    return np.flatnonzero(np.append(True, texts[1:] != texts[:-1])[: len(texts)])


def _seconds_alike(
    written: NDArray[np.bytes_], shape: re.Match[str]
) -> tuple[NDArray[np.bool_], Floats]:
    """Which stamps have their digits where this one has them, and the seconds that these give."""
    pattern = np.frombuffer(shape[0].encode("latin-1").ljust(WIDEST_STAMP, b"\0"), np.uint8)
    letters = np.ascontiguousarray(written).view(np.uint8).reshape(-1, WIDEST_STAMP)
    start, end = shape.span(2)
    digits = [n for n in range(start, end) if n != start + 2]
    same = [start - 1, *(n for n in range(start + 2, len(shape[0]) + 1) if n not in digits)]
    found = letters[:, digits] - ord("0")
    alike = (letters[:, same] == pattern[same]).all(axis=1) & (found <= 9).all(axis=1)
    decimals = len(digits) - 2
    whole = found @ (10 ** np.arange(decimals + 1, -1, -1))
    return alike & (whole < 60 * 10**decimals), whole / 10**decimals
