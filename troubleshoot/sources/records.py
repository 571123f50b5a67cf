"""Rows that name their own cells, written as a table: `t=5s p=3mbar`, or a flat JSON object a line.

The names become the head of the table, once; what stands before the first name of a row (a stamp,
perhaps in brackets) is a column without one.
"""

import json
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from troubleshoot.sources.cells import kind
from troubleshoot.sources.stamps import form_of

SAMPLE = 200
"""Lines that settle whether rows name their cells, and how."""
FEWEST = 3
"""So many rows must name the same cell: heads of tables hold lines like `device=A` too."""

_NAMED = re.compile(r"(?:^|(?<=[\s,;|:]))([^\W\d][\w.%/\[\]()\u00b5]*)\s*[=:]\s*(?=[^\s=:/\\])")
_TELLS = ("number", "void", "dated", "clock")
_DECODER = json.JSONDecoder(parse_float=str, parse_int=str)
"""Leaves numbers as they are written."""
_EDGES = " \t,;|"


@dataclass(frozen=True)
class Records:
    """How the rows of a log name their cells: the names in the order of the columns.

    `stamp`: which words before the first name are the date and clock.
    """

    names: tuple[str, ...]
    json: bool
    stamp: tuple[int, int]

    @property
    def head(self) -> str:
        """The line above the table."""
        return "\t".join(self.names)

    def table(self, text: str) -> str:
        """Whole lines as lines of the table, as many; one that names nothing stays as it is."""
        return "\n".join(map(self._row, text.split("\n")))

    def _row(self, line: str) -> str:
        if self.json:
            quick = self._quick(line)
            if quick is not None:
                return quick
        cells = _cells(line, json_lines=self.json)
        if not cells:
            return line if line.strip(" \t[],") else ""
        if "" in cells:
            cells[""] = " ".join(cells[""].split(" ")[slice(*self.stamp)])
        return "\t".join([cells.get(name, "") for name in self.names])

    def _quick(self, line: str) -> str | None:
        """The row of an object that holds every name, each as a text or a number."""
        try:
            said = _DECODER.decode(line)
            row = "\t".join([said[name] for name in self.names])
        except (ValueError, KeyError, TypeError, RecursionError):
            return None
        plain = row.count("\t") == len(self.names) - 1 and "\n" not in row and '"' not in row
        return row if plain else None


def records_of(lines: Sequence[str]) -> Records | None:
    """How rows name their cells; None for an ordinary table."""
    sample = [line for line in lines[:SAMPLE] if line.strip()]
    for json_lines in (True, False):
        rows = [cells for line in sample if (cells := _cells(line, json_lines=json_lines))]
        names = Counter(name for row in rows for name in row)
        told = Counter(n for row in rows for n, cell in row.items() if n and kind(cell) in _TELLS)
        if len(rows) <= len(sample) / 2 or not any(n >= FEWEST for n in told.values()):
            continue
        often = [name for name in names if names[name] > len(rows) / 10]
        # A column before all others, since a row begins with what has no name.
        before = next((row[""] for row in rows if "" in row), "")
        return Records(tuple(sorted(often, key=bool)), json_lines, _stamp_in(before.split(" ")))
    return None


def _stamp_in(words: list[str]) -> tuple[int, int]:
    """The longest run of words that is a date, a clock or both; all words if none is."""
    ends = range(len(words) + 1)
    runs = sorted(combinations(ends, 2), key=lambda run: run[0] - run[1])
    return next((run for run in runs if form_of(" ".join(words[slice(*run)]))), (0, len(words)))


def _cells(line: str, *, json_lines: bool) -> dict[str, str]:
    """The cells of a row by their names; empty for another line."""
    return _of_json(line) if json_lines else _of_pairs(line)


def _of_pairs(line: str) -> dict[str, str]:
    found = list(_NAMED.finditer(line))
    if not found:
        return {}
    ends = [*(match.start() for match in found[1:]), len(line)]
    before = line[: found[0].start()].strip(_EDGES)
    cells = {"": _plain(before)} if before else {}
    for match, end in zip(found, ends, strict=True):
        cells.setdefault(match[1], _plain(line[match.end() : end]))
    return cells


def _of_json(line: str) -> dict[str, str]:
    """An object, perhaps one of a list with an object in every line."""
    line = line.strip().removeprefix("[").removesuffix("]").strip(" ,\t")
    if not (line.startswith("{") and line.endswith("}")):
        return {}
    try:
        said = _DECODER.decode(line)
    except (ValueError, RecursionError):
        return {}
    return {_plain(name): _plain(value) for name, value in _flat(said)}


def _flat(said: dict[str, object]) -> Iterator[tuple[str, str]]:
    """Names and values; what is one object deeper, with both names."""
    for name, value in said.items():
        inside = value.items() if isinstance(value, dict) else ()
        named = [(name, value), *((f"{name} {deeper}", one) for deeper, one in inside)]
        yield from ((whole, one) for whole, one in named if isinstance(one, str))


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.strip(_EDGES)).strip('"')


def with_head(lines: list[str], records: Records) -> list[str]:
    """Lines of a file as lines of its table, with the head before its first row."""
    out = [records.table(line) for line in lines]
    first = next(
        (n for n, line in enumerate(lines) if _cells(line, json_lines=records.json)), len(lines)
    )
    out.insert(first, records.head)
    return out
