"""The one way in for a log or a picture: what it leaves open is settled here, and who reads it.

A unit that a table does not say is the gauge's, where the profile has it and pressures are meant,
and volts are turned into pressures by the gauge's scale; else it is asked for, where somebody can
be asked.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from troubleshoot import units
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError, nearest
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.current import currents
from troubleshoot.readings.current.current_plot import draw_currents
from troubleshoot.readings.pressure import pressures
from troubleshoot.readings.pressure.pressure_plot import draw_pressures
from troubleshoot.readings.reading import Reading
from troubleshoot.sources.image_file import is_image, read_picture
from troubleshoot.sources.log_file import Log, Table, Told, read_log, read_table
from troubleshoot.sources.times import NeedsTelling

if TYPE_CHECKING:
    from troubleshoot.readings.image.micrograph import MicrographAnalysis

Ask = Callable[[NeedsTelling], str]
"""Asks for what a table leaves open: the unit of "pressure" or "time", or a "column"."""

QUESTIONS = {
    "pressure": "Unit of the pressures (mbar, Pa, Torr):",
    "time": "Unit of the times (s, min, h, ms, hh:mm or mm:ss):",
    "column": "Column of the pressures:",
}
_KEYS = {"pressure": "unit", "time": "time_unit", "column": "column"}
_T = TypeVar("_T")


@dataclass(frozen=True)
class Beside:
    """What is said beside a picture: a `second` one of the same field, what differs between them
    (`pair`), and the size of a `pixel`, such as "5 nm".
    """

    second: Path | None = None
    pair: str | None = None
    pixel: str | None = None

    def __bool__(self) -> bool:
        return any(said is not None for said in (self.second, self.pair, self.pixel))


def log_of(path: Path, machine: Machine | None, told: Told, ask: Ask | None = None) -> Log:
    """A log of pressures. Raises `UserError`, and `NeedsTelling` where nobody says it."""
    if told.scale is None and machine is not None:
        told = replace(told, scale=machine.scale)
    log, said = _settled(partial(read_log, path), told, machine, ask)
    if said.unit is None or told.unit is not None or machine is None:
        return log
    if said.unit != machine.told_unit:
        return log
    note = f"The log does not say its unit: read in {said.unit}, as {machine.name} has."
    return replace(log, notes=(note, *log.notes))


def discharge_of(path: Path, told: Told, ask: Ask | None = None) -> tuple[Table | None, Told]:
    """The log as one of a discharge, or None if no current flows in it; what is told of it now.

    A column that is named is one of pressures. Raises as `log_of` does.
    """
    if told.column is not None:
        return None, told
    table, told = _settled(partial(read_table, path), told, None, ask)
    return (table if table is not None and currents.runs_current(table) else None), told


def _settled(
    read: Callable[[Told], _T], told: Told, machine: Machine | None, ask: Ask | None
) -> tuple[_T, Told]:
    """What is read once nothing is open any more, and what was told by then."""
    while True:
        try:
            return read(told), told
        except NeedsTelling as error:
            key = _KEYS.get(error.what)
            if key is None or getattr(told, key) is not None:
                raise
            gauge = machine.told_unit if machine is not None and key == "unit" else None
            if gauge is None and ask is None:
                raise
            said = gauge or (ask(error) if ask else "")
            told = Told(**{**vars(told), key: said})


def read_any(
    path: Path,
    findings: Mapping[str, Finding],
    machine: Machine,
    told: Told,
    beside: Beside = Beside(),
    *,
    empty: bool = False,
    shut: bool | None = None,
    ask: Ask | None = None,
    earlier: Sequence[tuple[float, float]] = (),
) -> tuple[Reading, str]:
    """The reading of a picture, a log of a discharge, or else of pressures, and its drawing.

    `earlier` as in `draw_pressures`. Raises as `log_of` does.
    """
    if beside or is_image(path):
        return read_images(path, findings, beside)
    table, told = discharge_of(path, told, ask)
    if table is not None:
        analysis = currents.analyse(table, findings, machine)
        return analysis.reading, draw_currents(analysis, machine)
    log = log_of(path, machine, told, ask)
    return read_pressures(log, findings, machine, empty=empty, shut=shut, earlier=earlier)


def analysis_of(
    log: Log,
    findings: Mapping[str, Finding],
    machine: Machine | None,
    *,
    empty: bool = False,
    shut: bool | None = None,
    target: float | None = None,
) -> pressures.Analysis:
    """As `pressures.analyse`; a log in which nothing happens is told with what was read of it."""
    try:
        return pressures.analyse(log, findings, machine, empty=empty, shut=shut, target=target)
    except UserError as error:
        raise UserError(f"{error} {log.taken}".rstrip()) from None


def read_images(path: Path, findings: Mapping[str, Finding], beside: Beside) -> tuple[Reading, str]:
    """As `read_any`, of a micrograph or two."""
    from troubleshoot.readings.image.micrograph_plot import draw_micrographs

    analysis = look_at(path, findings, beside)
    return analysis.reading, draw_micrographs(analysis)


def look_at(
    path: Path,
    findings: Mapping[str, Finding],
    beside: Beside,
    tell: Callable[[str], None] = lambda text: None,
) -> "MicrographAnalysis":
    """What a micrograph, or two, hold. `tell` is told what is being read. Raises `UserError`."""
    from troubleshoot.readings.image.micrograph import PAIRS, analyse

    if beside.pair is not None and beside.pair not in PAIRS:
        raise UserError(
            f"{beside.pair!r} is not one of {', '.join(PAIRS)}{nearest(beside.pair, PAIRS)}."
        )
    try:
        pixel = None if beside.pixel is None else units.parse(beside.pixel, "length").si
    except UserError as error:
        raise UserError(f"the size of a pixel, {beside.pixel!r}: {error}") from None
    pictures = tuple(read_picture(p) for p in (path, beside.second) if p is not None)
    return analyse(pictures, findings, pair=beside.pair, pixel=pixel, tell=tell)


def read_pressures(
    log: Log,
    findings: Mapping[str, Finding],
    machine: Machine,
    *,
    empty: bool = False,
    shut: bool | None = None,
    earlier: Sequence[tuple[float, float]] = (),
) -> tuple[Reading, str]:
    """As `read_any`, of a pressure log that was read or typed already; told in the gauge's unit."""
    log = replace(log, unit=machine.told_unit or log.unit)
    analysis = analysis_of(log, findings, machine, empty=empty, shut=shut)
    return analysis.reading, draw_pressures(analysis, machine, earlier)
