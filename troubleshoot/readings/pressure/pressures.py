"""Times and pressures, from a file or typed, turned into a sentence, numbers and soft findings.

What gas a base pressure is made of is the share f = (rise when shut off) x V/S / base: all of it
if gas comes in, little of it if the pump, its hose or the gauge holds the reading up. The shape of
the rise then tells a leak from vapour and from a trapped pocket. A pump-down alone cannot tell a
leak from a weak pump, and the reader says so.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.pressure.numbers import gas_share, numbers_of, time_constant
from troubleshoot.readings.pressure.parts import READER, Part, pumped_part, shut_part
from troubleshoot.readings.pressure.runs import hops, main_run, remarks, within_scale
from troubleshoot.readings.pressure.segment import Segment
from troubleshoot.readings.pressure.segments import find_segments
from troubleshoot.readings.pressure.soft import SURELY, how_usual, soft_findings
from troubleshoot.readings.pressure.telling import sentence_of
from troubleshoot.readings.pressure.verdict import Account, verdict_of
from troubleshoot.readings.reading import PRESSURE_LOG, TYPED, Reading
from troubleshoot.sources.log_file import Log

HIGH_VACUUM = 0.05
"""Pa. No rotary pump alone gets so far, and what is usual for one says nothing here."""
OF_ROUGH_VACUUM = ("base_loaded", "base_empty", "rise_rate", "rise_against_base", "curve_shape")
NO_USUAL = (
    "This is a high vacuum: whether it is as usual, only a good day of this coater tells "
    "(troubleshoot machine good-day)."
)
CONTRARY = 0.3
"""A change of ln p against what the valve allows that cannot be a slip of the gauge: judgement."""


@dataclass(frozen=True)
class Analysis:
    """Everything the reader made of a log."""

    log: Log
    segments: tuple[Segment, ...]
    pump: Part | None
    rise: Part | None
    verdict: Account
    reading: Reading


def analyse(
    log: Log,
    findings: Mapping[str, Finding],
    machine: Machine | None = None,
    *,
    empty: bool = False,
    shut: bool | None = None,
    target: float | None = None,
) -> Analysis:
    """Read a log.

    `empty`: nothing was in the chamber. `shut`: the whole log was taken with the pump valve shut
    (True) or open (False), where the operator knows. `target`: pressure in Pa that is waited for.
    Raises `UserError` if nothing happens in the log.
    """
    machine = machine or Machine()
    valve = machine.facts.get("isolation_valve") != "no"
    segments = find_segments(log, valve=valve) if shut is None else _one_segment(log, shut)
    falling, rising = main_run(segments, log)
    if falling is None and rising is None and log.typed:
        # Few numbers and coarse: what they do from the first to the last must do.
        segments = _one_segment(log, bool(log.pascal[-1] > log.pascal[0]))
        falling, rising = main_run(segments, log)
    beside = remarks(segments, log, falling, rising)
    if falling is None and rising is None:
        if beside:
            raise UserError(f"{log.source}: {' '.join(beside)}")
        raise UserError(
            f"{log.source}: the pressure neither falls nor rises clearly in this log; give one of "
            "a pump-down, or of the chamber shut off from its pump."
        )
    pump = pumped_part(log, falling) if falling else None
    capacitance = machine.facts.get("gauge_kind") == "capacitance"
    rise = (
        shut_part(log, rising, pump, bends_in_vapour=not capacitance, empty=empty)
        if rising
        else None
    )
    numbers = numbers_of(log, pump, rise, machine, target)
    high = log.pascal.min() < HIGH_VACUUM and "usual_base" not in machine.numbers
    share = None
    if pump is not None and pump.floor is None and not high and "pressure_when_shut" in numbers:
        share = gas_share(pump, numbers, machine)
        if time_constant(pump) is not None:
            # Hose or pump may be what is wrong: only today's fall tells today's speed.
            numbers["gas_share_of_base"] = share
    soft = soft_findings(pump, rise, numbers, findings, machine, empty, target is not None)
    verdict = verdict_of(pump, rise, numbers, share, empty=empty)
    if high:
        soft = {k: v for k, v in soft.items() if k not in OF_ROUGH_VACUUM}
        beside = (*beside, NO_USUAL)
    usual = how_usual(soft, findings)
    if hops(log):
        # Whatever the curve says, the gauge has to be trusted first.
        usual, verdict = 0.0, Account(None, verdict.rivals, verdict.log_likelihoods)
    if usual > SURELY:
        verdict = Account("usual", ("usual",), verdict.log_likelihoods)
    elif usual > 1 - SURELY:
        rivals = ("usual", *(r for r in verdict.rivals if r != "usual"))
        verdict = Account(None, rivals, verdict.log_likelihoods)
    reading = Reading(
        kind=TYPED if log.typed else PRESSURE_LOG,
        source=log.source,
        sha256=log.sha256,
        reader=READER,
        sentence=" ".join([sentence_of(log, pump, rise, numbers, verdict, machine), *beside]),
        numbers=numbers,
        findings=soft,
        taken=log.taken,
    )
    return Analysis(log, segments, pump, rise, verdict, reading)


def _one_segment(log: Log, shut: bool) -> tuple[Segment, ...]:
    """The whole log as one segment. Raises `UserError` if it goes clearly the other way."""
    few = max(1, len(log.pascal) // 10)
    change = math.log(np.median(log.pascal[-few:]) / np.median(log.pascal[:few]))
    if shut and change < -CONTRARY:
        raise UserError(
            f"{log.source}: the pressure falls although the pump valve is said to be shut; was it "
            "really shut?"
        )
    if not shut and change > CONTRARY:
        raise UserError(
            f"{log.source}: the pressure rises although the pump valve is said to be open; was it "
            "really open?"
        )
    whole = within_scale(log, Segment("isolated" if shut else "pumping", 0, len(log.seconds) - 1))
    if len(whole) < 2:
        raise UserError(
            f"{log.source}: its {'first' if shut else 'last'} readings stand at the end of the "
            "gauge's scale; give a log that is within it by then."
        )
    return (whole,)
