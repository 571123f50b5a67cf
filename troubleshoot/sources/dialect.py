"""How one table is written: what was settled from its first lines, for all its rows."""

import csv
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from troubleshoot import units
from troubleshoot.sources.records import Records
from troubleshoot.sources.stamps import Stamps


@dataclass(frozen=True)
class Value:
    """A column of numbers in a unit; `units` is the column that says the unit of each row."""

    column: int
    dimension: str
    unit: str
    units: int | None = None

    @property
    def factor(self) -> float:
        """What the unit is in SI."""
        return units.to_si(1, self.unit, self.dimension)


@dataclass(frozen=True)
class Dialect:
    """How one table is written.

    Times stand in the column `time`: as `stamps` (with their dates perhaps in the column `date`),
    or, where `stamps` is None, as numbers that count `factor` seconds. `records`: the rows name
    their own cells, and the head is none of the file. `time_units`: each row says the unit of its
    time.
    """

    encoding: str
    delimiter: str
    comma: bool  # numbers have a decimal comma
    grouped: bool  # thousands are set apart by a mark
    head: tuple[str, ...]  # lines before the data
    time: int
    values: tuple[Value, ...]
    stamps: Stamps | None
    factor: float = 1.0
    date: int | None = None
    records: Records | None = None
    time_units: Value | None = None

    @property
    def columns(self) -> tuple[int, ...]:
        """The columns that are read: dates, times, values, units."""
        dates = () if self.date is None else (self.date,)
        said = (v.units for v in self.values if v.units is not None)
        return (*dates, self.time, *(v.column for v in self.values), *said, *self._of_time)

    @property
    def _of_time(self) -> tuple[int, ...]:
        said = None if self.time_units is None else self.time_units.units
        return () if said is None else (said,)


def split(lines: Iterable[str], delimiter: str) -> Iterator[list[str]]:
    """Lines cut into cells."""
    return csv.reader(lines, delimiter=delimiter, skipinitialspace=True)
