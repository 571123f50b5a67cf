"""Logs of pressure and of a discharge, as loggers write them, read in blocks, in bounded memory.

How the table is written is settled from its first lines (`layout`, `choice`); then `rows` reads it
block by block. Points that tell the same are merged on the way, so a log of any length ends as a
few thousand points, each with the number of rows it stands for.
"""

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import TypeVar

import numpy as np

from troubleshoot import units
from troubleshoot.coater.gauge_scale import GaugeScale, read_scale
from troubleshoot.errors import UserError
from troubleshoot.regular_file import open_regular, staying
from troubleshoot.sources.beyond import Beyond
from troubleshoot.sources.choice import pressure_of, pressure_unit, quantities_of
from troubleshoot.sources.counts import (
    LONGEST,
    MINUTE,
    TOO_HIGH,
    Counts,
    check,
    continuous,
    rows_in_words,
    scaled,
    spread,
    usable,
)
from troubleshoot.sources.dialect import Dialect, Value
from troubleshoot.sources.layout import Column, Layout, layout_of
from troubleshoot.sources.points import Points, display_step
from troubleshoot.sources.rows import Floats, blocks
from troubleshoot.sources.text import Text, text_of
from troubleshoot.sources.times import Times, times_of

MOST = {"current": 1e3, "voltage": 1e5, "pressure": TOO_HIGH}
"""SI. No meter on a bench-top coater, nor a carbon source on it, shows more than 1000 A or 100 kV:
what lies above is a sign of the meter or a slip. Judgement, with two decades to spare."""
MOST_ROWS = 2_000_000
"""A log of a discharge lasts minutes and is kept row by row; beyond this it is cut by its owner."""


T = TypeVar("T")


@dataclass(frozen=True)
class Log:
    """Pressure against time. `seconds` from the first row, rising; `pascal` above zero.

    `rows_each`: rows that a point stands for. `step`: the smallest step of the display there, in
    Pa (0: too fine to matter). `breaks`: times at which the log starts anew (several files in
    one). `taken`: which column, unit and time were taken, in words. `notes`: what was left out and
    why, for the operator. `glitches`: rows that jumped for a single reading. `low`, `high`: Pa, the
    ends of the gauge's scale, where it said itself that it was beyond them.
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
    taken: str = ""
    glitches: int = 0
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Told:
    """What is said beside a log.

    `unit`: of pressures. `time_unit`: of times, or "hh:mm" or "mm:ss". `column`: a part of the name
    of the pressure column, or its number. `every`: seconds from row to row of a table without
    times. `scale`: what the volts of a gauge mean.
    """

    unit: str | None = None
    time_unit: str | None = None
    column: str | None = None
    every: float | None = None
    scale: GaugeScale | None = None

    @classmethod
    def of(cls, said: Mapping[str, str | None]) -> "Told":
        """From texts by the names of options; `UserError` for those that cannot be read."""
        every, scale = said.get("every"), said.get("gauge_scale")
        step = None
        if every is not None:
            try:
                step = units.parse(every, "time", default_unit="s").si
            except UserError as error:
                raise UserError(f"--every: {error}") from None
            if step <= 0:
                raise UserError("--every: the time from row to row must be above zero.")
        try:
            known = read_scale(scale) if scale is not None else None
        except UserError as error:
            raise UserError(f"--gauge-scale: {error}") from None
        return cls(said.get("unit"), said.get("time_unit"), said.get("column"), step, known)


def _of_one_file(read: Callable[[Path, Told | None], T]) -> Callable[..., T]:
    """The same reader, for a file that stays what it is while it is looked through."""

    @wraps(read)
    def reading(path: Path, told: Told | None = None) -> T:
        with staying(path):
            return read(path, told)

    return reading


@_of_one_file
def read_log(path: Path, told: Told | None = None) -> Log:
    """Read a pressure log.

    What is told overrules what the file says. Raises `UserError` for what is not such a log, and
    `NeedsTelling` if the file, its name and what is told all leave something open.
    """
    told = told or Told()
    text = text_of(path)
    layout = layout_of(path, text, alone=told.every is not None)
    times = times_of(path, layout, text.last, told.time_unit, told.every)
    column = pressure_of(path, layout, times, told.column)
    dimension, unit = pressure_unit(path, column, layout, told.unit, told.scale)
    dialect = _dialect(text, layout, times, {dimension: (column, unit)})
    scale = told.scale if dimension == "voltage" else None
    factor = units.to_si(1, unit, dimension)
    points, beyond, state = Points(), Beyond(), Counts()
    for seconds, values in _read(path, dialect, times, state):
        with np.errstate(over="ignore"):  # beyond all numbers is off scale
            si = values[:, 0] * factor
            pascal = si if scale is None else np.where(np.isinf(si), si, scale.pascal(si))
        pascal = scaled(pascal)
        points.add(*usable(seconds, pascal, state))
        beyond.add(seconds, pascal)
    t, log_p, weight = points.finished()
    check(path, state, len(t))
    t, log_p, weight = beyond.put_back(t, log_p, weight)
    state.bounds = beyond.kept
    if state.newest_first:
        t, log_p, weight = -t[::-1], log_p[::-1], weight[::-1]
        state.breaks = [-b for b in reversed(state.breaks)]
    pascal = np.asarray(np.exp(log_p))
    start = t[0]
    shown = unit if scale is None else scale.unit
    by_scale = "" if scale is None else " by the scale of the gauge"
    return Log(
        source=path.name,
        sha256=_digest(path),
        seconds=t - start,
        pascal=pascal,
        rows_each=weight,
        step=display_step(pascal),
        rows=state.rows,
        unit=shown,
        notes=state.notes(points.glitches, "pressure"),
        breaks=tuple(b - start for b in state.breaks),
        glitches=points.glitches,
        low=beyond.low,
        high=beyond.high,
        taken=_taken([f"pressure from column {column.called} in {shown}{by_scale}"], times, state,
                     float(t[-1] - start)),
    )  # fmt: skip


@dataclass(frozen=True)
class Table:
    """Several quantities against time, row by row in SI; nan where a cell was not readable.

    `columns`: of "current", "voltage" and "pressure" those that are there; `shown`: the unit that
    each was written in; `taken`: which column each is, in words.
    """

    source: str
    sha256: str
    seconds: Floats
    columns: Mapping[str, Floats]
    shown: Mapping[str, str]
    notes: tuple[str, ...] = ()
    taken: str = ""


@_of_one_file
def read_table(path: Path, told: Told | None = None) -> Table | None:
    """Read a log of a discharge; None if no column of the table is a current.

    A column counts where its head, its cells or a column beside it hold a unit of current, voltage
    or pressure; of several the first one that is no set value. Raises `UserError` for what cannot
    be read, and `NeedsTelling` for a current, or times, without a unit.
    """
    told = told or Told()
    text = text_of(path)
    layout = layout_of(path, text, alone=told.every is not None)
    if not any(c.quantity == "current" for c in layout.columns):
        return None
    times = times_of(path, layout, text.last, told.time_unit, told.every)
    found = quantities_of(path, layout, times)
    if "current" not in found:
        return None
    dialect = _dialect(text, layout, times, {name: (c, c.unit) for name, c in found.items()})
    state = Counts()
    seconds, values = [], []
    for t, block in _read(path, dialect, times, state):
        if state.rows > MOST_ROWS:
            raise UserError(
                f"{path}: more than {MOST_ROWS} rows; cut the log to one coating and read that."
            )
        seconds.append(t)
        values.append(block)
    t, cells = np.concatenate(seconds), np.concatenate(values)
    columns = {}
    for n, (name, column) in enumerate(found.items()):
        with np.errstate(over="ignore"):
            si = cells[:, n] * units.to_si(1, column.unit, name)
        absurd = np.abs(si) > MOST[name]
        state.off_scale += int(absurd.sum())
        columns[name] = np.where(absurd, np.nan, si)
    good = np.isfinite(t) & np.isfinite(columns["current"])
    state.unreadable = int((~good).sum()) - state.off_scale
    if good.sum() < 3:
        raise UserError(
            f"{path}: only {int(good.sum())} rows hold a time and a current; at least three are "
            "needed."
        )
    t = t[good]
    if state.newest_first:
        t = -t[::-1]
        columns = {name: si[::-1] for name, si in columns.items()}
        good = good[::-1]
    t = spread(t)
    named = [f"{name} from column {c.called} in {c.unit}" for name, c in found.items()]
    beside = [c.called for c in layout.columns if c.quantity == "pressure" and c.kind == "number"
              and c not in found.values()]  # fmt: skip
    also = (f"Pressures stand in column {', '.join(beside)} too, and were left.",) if beside else ()
    return Table(
        source=path.name,
        sha256=_digest(path),
        seconds=t - t[0],
        columns={name: si[good] for name, si in columns.items()},
        shown={name: c.unit for name, c in found.items()},
        notes=(*state.notes(0, "current"), *also),
        taken=_taken(named, times, state, float(t[-1] - t[0])),
    )


def _dialect(
    text: Text, layout: Layout, times: Times, found: Mapping[str, tuple[Column, str]]
) -> Dialect:
    """How the rows are written; `found`: dimension -> column and unit."""
    columns = [column for column, _ in found.values()]
    counted = [*columns, *([times.column] if times.stamps is None else [])]
    return Dialect(
        encoding=text.encoding,
        delimiter=layout.delimiter,
        comma=layout.comma(counted),
        grouped=layout.grouped(counted),
        head=layout.head,
        time=times.column.place,
        values=tuple(
            Value(column.place, dimension, unit, column.units_at)
            for dimension, (column, unit) in found.items()
        ),
        stamps=times.stamps,
        factor=times.factor,
        date=None if times.date is None else times.date.place,
        records=text.records,
        time_units=times.units,
    )


def _read(
    path: Path, dialect: Dialect, times: Times, state: Counts
) -> Iterator[tuple[Floats, Floats]]:
    """Times that never go back, and values, block by block; of a log with its newest row first the
    times run from the last one up to it, below zero."""
    for raw, values in blocks(path, dialect, state.words):
        if times.every is not None:
            raw = np.asarray(times.every * (state.rows + np.arange(len(raw))), float)
        if state.rows == 0:
            state.newest_first = _runs_back(raw)
        state.rows += len(raw)
        raw = np.where(np.abs(raw) < LONGEST, raw, np.nan)
        seconds = continuous(-raw if state.newest_first else raw, dialect, state)
        if times.stamps is not None:
            timed = np.isfinite(seconds)
            seconds[timed] = spread(seconds[timed], MINUTE)
        yield seconds, values


def _runs_back(raw: Floats) -> bool:
    """Whether the newest row comes first: nearly every step goes back."""
    steps = np.diff(raw[np.isfinite(raw)])
    steps = steps[steps != 0]
    return len(steps) > 1 and float(np.mean(steps < 0)) > 0.9


def _taken(values: list[str], times: Times, state: Counts, seconds: float) -> str:
    """Which columns, units and times were taken, in a sentence."""
    order = ", newest first" if state.newest_first else ""
    return (
        f"Read: {', '.join(values)}; {times.in_words()}; {rows_in_words(state.rows)} over "
        f"{_span(seconds)}{order}."
    )


def _span(seconds: float) -> str:
    """A length of time in its two largest units: `7 min 55 s`."""
    if seconds < 60:
        return f"{units.format_number(seconds)} s"
    for name, size, small, part in (("d", 86400, "h", 3600), ("h", 3600, "min", 60)):
        if seconds >= size:
            whole, rest = divmod(round(seconds / part), size // part)
            return f"{whole} {name} {rest} {small}" if rest else f"{whole} {name}"
    whole, rest = divmod(round(seconds), 60)
    return f"{whole} min {rest} s" if rest else f"{whole} min"


def _digest(path: Path) -> str:
    digest = hashlib.sha256()
    with open_regular(path) as stream:
        while block := stream.read(1 << 20):
            digest.update(block)
    return digest.hexdigest()
