"""A log file beside a case: of a discharge where a current flows, else of pressures."""

from collections.abc import Mapping
from pathlib import Path

from troubleshoot.knowledge.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings import currents, pressures
from troubleshoot.readings.log_file import Log, read_log, read_table
from troubleshoot.readings.plot import draw
from troubleshoot.readings.reading import Reading


def read_any(
    path: Path,
    findings: Mapping[str, Finding],
    machine: Machine,
    *,
    unit: str | None = None,
    empty: bool = False,
    shut: bool | None = None,
) -> tuple[Reading, str | None]:
    """The reading of a log, and its drawing (SVG) where there is one. Raises `UserError`."""
    table = read_table(path)
    if table is not None and currents.runs_current(table):
        return currents.analyse(table, findings, machine).reading, None
    return read_pressures(read_log(path, unit), findings, machine, empty=empty, shut=shut)


def read_pressures(
    log: Log,
    findings: Mapping[str, Finding],
    machine: Machine,
    *,
    empty: bool = False,
    shut: bool | None = None,
) -> tuple[Reading, str | None]:
    """As `read_any`, of a pressure log that was read or typed already."""
    analysis = pressures.analyse(log, findings, machine, empty=empty, shut=shut)
    return analysis.reading, draw(analysis, machine)
