"""A pump-down or a rise of a log with the models fitted to it, and what a fit says of a moment."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.readings.pressure.curve_models import pump_models, rise_models
from troubleshoot.readings.pressure.fits import Comparison, Data, Fit, fit_all
from troubleshoot.readings.pressure.segment import Segment
from troubleshoot.readings.pressure.segments import clean
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.points import display_step

READER = "pressures 2"
CREEP_SECONDS = 300.0
ENOUGH = 10
"""Readings of which one can be spared."""
EDGE = 0.02
"""Share of a rise left out at each end, where the valve was turned."""
DECISIVE = 6.0
"""Two stories whose log-likelihoods differ by less are not told apart."""


@dataclass(frozen=True)
class Part:
    """One segment with the models fitted to it; times count from `start` (s of the log)."""

    segment: Segment
    start: float
    data: Data
    comparison: Comparison


def pumped_part(log: Log, segment: Segment) -> Part:
    places = clean(log, segment)
    if len(places) > ENOUGH and not log.typed:
        # The first one still waits at the top: the pump started somewhere before the second.
        places = places[1:]
    start = float(log.seconds[places[0]])
    data = _part_data(log, places, start)
    return Part(segment, start, data, fit_all(pump_models(data), data))


def shut_part(log: Log, segment: Segment, falling: Segment | None) -> Part:
    places = np.arange(segment.first, segment.last + 1)
    edge = math.ceil(EDGE * len(places))
    if len(places) > 20:
        # At both ends somebody turned a valve; where the log ends nobody did.
        first = edge if segment.first > 0 else 0
        last = edge if segment.last < len(log.seconds) - 1 else 0
        places = places[first : len(places) - last]
    start = float(log.seconds[segment.first])
    data = _part_data(log, places, start)
    pumped = None
    if falling is not None and falling.last <= segment.first:
        pumped = max(start - float(log.seconds[falling.first]), 1.0)
    found = fit_all(rise_models(data, pumped), data)
    if found.kinds().get("leak", -math.inf) < -DECISIVE:
        found = fit_all(rise_models(data, pumped, bent=True), data)
    return Part(segment, start, data, found)


def _part_data(log: Log, chosen: NDArray[np.intp], start: float) -> Data:
    step = log.step[chosen] if log.typed else display_step(log.pascal[chosen])
    return Data.of(log.seconds[chosen] - start, log.pascal[chosen], log.rows_each[chosen], step)


def pressure_at(fit: Fit, seconds: float, end: float) -> Estimate:
    """Pressure of a fit at a time. Tails are scaled to `end`, so that stays in the array."""
    times = np.array([seconds, end])
    if seconds > end:
        # The tail's amplitude belongs to the last moment that was seen.
        return fit.of(lambda *v: _beyond(fit, seconds, end, v), "Pa")
    return fit.of(lambda *v: float(fit.model.curve(times, *v)[0]), "Pa")


def _beyond(fit: Fit, seconds: float, end: float, values: tuple[float, ...]) -> float:
    power = {"tail_walls": 1.0, "tail_seals": 0.5}.get(fit.model.name)
    if power is None:
        return float(fit.model.curve(np.array([seconds]), *values)[0])
    tau, tail = values[2], values[4]
    at_end = float(fit.model.curve(np.array([end]), *values)[0])
    return at_end - tail * (1 - ((end + tau) / (seconds + tau)) ** power)


def rise_rate(fit: Fit, seconds: float) -> Estimate:
    """The mean rise in Pa/s over the first `seconds` after the valve was shut."""
    times = np.array([0.0, seconds])

    def gained(*values: float) -> float:
        curve = fit.model.curve(times, *values)
        return float(curve[1] - curve[0]) / seconds

    return fit.of(gained, "Pa/s")


def still_falls(fit: Fit, end: float) -> bool:
    """More than a tenth in the last five minutes, or (of a short log) in the next five."""
    before = max(end - CREEP_SECONDS, 0.0)
    if before > 0.3 * end:
        return pressure_at(fit, before, end).value > 1.1 * pressure_at(fit, end, end).value
    return pressure_at(fit, end + CREEP_SECONDS, end).value < 0.9 * pressure_at(fit, end, end).value
