"""A log file beside a case: of a discharge where a current flows, else of pressures."""

from collections.abc import Mapping
from pathlib import Path

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.current import currents
from troubleshoot.readings.current.current_plot import draw_currents
from troubleshoot.readings.pressure import pressures
from troubleshoot.readings.pressure.pressure_plot import draw_pressures
from troubleshoot.readings.reading import Reading
from troubleshoot.sources.log_file import Log, read_log, read_table

TELLS = frozenset(
    {
        "base_loaded", "base_empty", "rise_rate", "rise_shape", "rise_against_base",
        "curve_shape", "pump_down_time", "current_over_time", "pressure_hold",
        "current_at_reference",
    }
)  # fmt: skip
"""The findings that a log, or a row of typed readings, can answer."""


def read_any(
    path: Path,
    findings: Mapping[str, Finding],
    machine: Machine,
    *,
    unit: str | None = None,
    time_unit: str | None = None,
    column: str | None = None,
    empty: bool = False,
    shut: bool | None = None,
) -> tuple[Reading, str]:
    """The reading of a log, and its drawing (SVG).

    `column` names a column of pressures, which is then read whatever else the log holds. Raises
    `UserError`, and `NeedsUnit` where a unit is said nowhere.
    """
    table = read_table(path, time_unit) if column is None else None
    if table is not None and currents.runs_current(table):
        analysis = currents.analyse(table, findings, machine)
        return analysis.reading, draw_currents(analysis, machine)
    log = read_log(path, unit, time_unit, column)
    return read_pressures(log, findings, machine, empty=empty, shut=shut)


def read_pressures(
    log: Log,
    findings: Mapping[str, Finding],
    machine: Machine,
    *,
    empty: bool = False,
    shut: bool | None = None,
) -> tuple[Reading, str]:
    """As `read_any`, of a pressure log that was read or typed already."""
    analysis = pressures.analyse(log, findings, machine, empty=empty, shut=shut)
    return analysis.reading, draw_pressures(analysis, machine)
