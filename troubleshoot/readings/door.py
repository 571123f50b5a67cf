"""The one way in for a log: what its table leaves open is settled here, and which reader takes it.

A unit that a table does not say is the gauge's, where the profile has it and pressures are meant,
and volts are turned into pressures by the gauge's scale; else it is asked for, where somebody can
be asked.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.current import currents
from troubleshoot.readings.current.current_plot import draw_currents
from troubleshoot.readings.pressure import pressures
from troubleshoot.readings.pressure.pressure_plot import draw_pressures
from troubleshoot.readings.reading import Reading
from troubleshoot.sources.choice import NeedsTelling
from troubleshoot.sources.log_file import Log, Table, Told, read_log, read_table

Ask = Callable[[NeedsTelling], str]
"""Asks for what a table leaves open: the unit of "pressure" or "time", or a "column"."""

QUESTIONS = {
    "pressure": "Unit of the pressures (mbar, Pa, Torr):",
    "time": "Unit of the times (s, min, h, ms, hh:mm or mm:ss):",
    "column": "Column of the pressures:",
}
_KEYS = {"pressure": "unit", "time": "time_unit", "column": "column"}
_T = TypeVar("_T")


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
    *,
    empty: bool = False,
    shut: bool | None = None,
    ask: Ask | None = None,
) -> tuple[Reading, str]:
    """The reading of a log of a discharge, else of pressures, and its drawing (SVG).

    Raises as `log_of` does.
    """
    table, told = discharge_of(path, told, ask)
    if table is not None:
        analysis = currents.analyse(table, findings, machine)
        return analysis.reading, draw_currents(analysis, machine)
    log = log_of(path, machine, told, ask)
    return read_pressures(log, findings, machine, empty=empty, shut=shut)


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


def read_pressures(
    log: Log,
    findings: Mapping[str, Finding],
    machine: Machine,
    *,
    empty: bool = False,
    shut: bool | None = None,
) -> tuple[Reading, str]:
    """As `read_any`, of a pressure log that was read or typed already."""
    analysis = analysis_of(log, findings, machine, empty=empty, shut=shut)
    return analysis.reading, draw_pressures(analysis, machine)
