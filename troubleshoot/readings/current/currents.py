"""A log of the discharge: current against time, with pressure and voltage if they are there.

What is told: drift, steps, arcs (short jumps), a slow or quick swing, times at which the glow was
out, and whether the current follows the pressure or goes ahead of it. A log cannot see where a
spark sits, nor whether a hand was at the needle valve, and the sentence claims neither.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.current.drift import Drift
from troubleshoot.readings.current.events import run_of, running, with_steps
from troubleshoot.readings.current.numbers import drift_of, level_and_change, numbers_of
from troubleshoot.readings.current.relation import relation_of
from troubleshoot.readings.current.soft import soft_findings
from troubleshoot.readings.current.swing import left_by_steps, left_by_swing, swing_of
from troubleshoot.readings.current.telling import sentence_of
from troubleshoot.readings.current.trace import FEWEST, Event, Swing, Trace
from troubleshoot.readings.reading import CURRENT_LOG, Reading
from troubleshoot.sources.log_file import Table

READER = "currents 3"


@dataclass(frozen=True)
class CurrentAnalysis:
    """Everything the reader made of a log. `relation`: P of each of `RELATIONS`, or empty.

    `run`: the rows with the glow on; `drifts`: what was fitted to current, voltage and pressure
    there, of those that hold enough rows.
    """

    table: Table
    run: Trace
    drifts: Mapping[str, Drift]
    relation: Mapping[str, float]
    reading: Reading

    @property
    def events(self) -> tuple[Event, ...]:
        """What happened, in order."""
        return self.run.events

    @property
    def swing(self) -> Swing | None:
        """The periodic change, if there is one."""
        return self.run.swing

    def of(self, kind: str) -> list[Event]:
        """The events of one kind."""
        return [e for e in self.events if e.kind == kind]


def runs_current(table: Table) -> bool:
    """Whether any current flows in the log; else the table is one of pressures only."""
    return bool(np.nanmax(np.abs(table.columns["current"])) > 0)


def analyse(
    table: Table, findings: Mapping[str, Finding], machine: Machine | None = None
) -> CurrentAnalysis:
    """Read the log of one coating. Raises `UserError` if no discharge runs in it long enough."""
    machine = machine or Machine()
    first, last = running(table)
    part = slice(first, last + 1)
    seconds = table.seconds[part]
    volts = table.columns.get("voltage")
    if volts is not None:
        volts = np.abs(volts[part])
    run = run_of(seconds, np.abs(table.columns["current"][part]), volts)
    stepped, swing = with_steps(run), swing_of(run)
    if swing is None or left_by_steps(stepped) < left_by_swing(run, swing):
        run = stepped
    else:
        # Jumps stand out better from what the swing leaves.
        run = run_of(seconds, run.amps, volts, swing)
    drifts = {"current": drift_of(run, run.even, run.steady)}
    relation: dict[str, float] = {}
    numbers = numbers_of(run, drifts["current"])
    if volts is not None:
        good = run.steady & np.isfinite(volts)
        drifts["voltage"] = drift_of(run, volts, good)
        level_and_change(numbers, "voltage", "V", run, volts, good, drifts["voltage"])
    pressure = table.columns.get("pressure")
    if pressure is not None:
        shown = pressure[part]
        usable = np.isfinite(shown) & (shown > 0)
        if usable.sum() >= FEWEST:
            drifts["pressure"] = drift_of(run, shown, usable, steps=False)
            level_and_change(numbers, "pressure", "Pa", run, shown, usable, drifts["pressure"])
            relation, lag = relation_of(run, shown, usable)
            if lag is not None:
                numbers["current_after_pressure"] = lag
    soft = soft_findings(run, numbers, findings, machine)
    reading = Reading(
        kind=CURRENT_LOG,
        source=table.source,
        sha256=table.sha256,
        reader=READER,
        sentence=sentence_of(run, numbers, relation, machine),
        numbers=numbers,
        findings=soft,
        taken=table.taken,
    )
    found = {name: drift for name, drift in drifts.items() if drift is not None}
    return CurrentAnalysis(table, run, found, relation, reading)
