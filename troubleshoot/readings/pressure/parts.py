"""A pump-down or a rise of a log with the models fitted to it, and what a fit says of a moment."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from troubleshoot.physics.gauges import HIGHEST
from troubleshoot.readings.pressure.curve_models import MOLECULAR, pump_models, rise_models
from troubleshoot.readings.pressure.fits import Comparison, Data, Fit, fit_all
from troubleshoot.readings.pressure.scale import FLOOR_READINGS, SAME, floor_of
from troubleshoot.readings.pressure.segment import Segment, gaps
from troubleshoot.readings.pressure.segments import clean
from troubleshoot.readings.reading import Estimate
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.points import display_step

READER = "pressures 3"
CREEP_SECONDS = 300.0
FEWEST = 3
LEAST_LOW = 6
"""Readings below 1 mbar of which a curve can be told."""
ENOUGH = 10
"""Readings of which one can be spared."""
EDGE = 0.02
"""Share of a rise left out at each end, where the valve was turned."""
THROTTLED_TAU, MILLIBAR, THROTTLED_BELOW = 40.0, 100.0, 5000.0
"""s and Pa: V/S at 1 mbar from which a narrow place is a trouble, and above what it hardly shows.
Judgement."""
DECISIVE = 6.0
"""Two stories whose log-likelihoods differ by less are not told apart."""


@dataclass(frozen=True)
class Part:
    """One segment with the models fitted to it; times count from `start` (s of the log).

    `floor`: Pa, the least that the gauge shows, where it got there: readings there tell a bound and
    are not fitted. `begun`: whether the log shows the moment at which it began. `low`: the same
    models for the readings below 1 mbar alone, where a rise goes beyond: above, a heat-loss gauge
    bends in its own way in each gas (`physics.gauges`); `bends_in_vapour`: the gauge may be one.
    """

    segment: Segment
    start: float
    data: Data
    comparison: Comparison
    floor: float | None = None
    begun: bool = True
    low: Comparison | None = None
    bends_in_vapour: bool = True


def pumped_part(log: Log, segment: Segment) -> Part:
    places = clean(log, segment)
    if len(places) > ENOUGH and not log.typed:
        # The first one still waits at the top: the pump started somewhere before the second.
        places = places[1:]
    start = float(log.seconds[places[0]])
    floor = floor_of(log, places)
    above = log.pascal[places] > (floor or 0.0) * (1 + 1e-9)
    if floor is not None and above.sum() >= FEWEST:
        places = places[above]
    else:
        floor = None
    data = _part_data(log, places, start)
    return Part(segment, start, data, fit_all(pump_models(data), data), floor)


def shut_part(
    log: Log,
    segment: Segment,
    pump: Part | None,
    *,
    bends_in_vapour: bool = True,
    empty: bool = False,
) -> Part:
    """The rise, after the pump-down of the same run where there is one: it tells best whether the
    gauge was at its lower end."""
    places = np.arange(segment.first, segment.last + 1)
    before = log.pascal[: segment.first + 1]
    floor = float(before.min())
    on_floor = np.count_nonzero(before == floor) >= FLOOR_READINGS and floor == log.pascal.min()
    on_floor &= pump is None or pump.floor is not None
    begun = not any(segment.first - 2 <= k <= segment.first for k in gaps(log))
    if on_floor and log.pascal[segment.first] <= floor * (1 + SAME):
        # Where it leaves the end of the scale is not where the valve was shut.
        places, begun = places[log.pascal[places] > floor * (1 + SAME)], False
    edge = math.ceil(EDGE * len(places))
    if len(places) > 20:
        # At both ends somebody turned a valve; where the log ends nobody did.
        first = edge if segment.first > 0 else 0
        last = edge if segment.last < len(log.seconds) - 1 else 0
        places = places[first : len(places) - last]
    start = float(log.seconds[segment.first if begun else places[0]])
    data = _part_data(log, places, start)
    pumped = None
    if pump is not None and pump.segment.last <= segment.first:
        pumped = max(start - float(log.seconds[pump.segment.first]), 1.0)
    found = fit_all(rise_models(data, pumped, dry=empty), data)
    if found.kinds().get("leak", -math.inf) < -DECISIVE:
        found = fit_all(rise_models(data, pumped, bent=True, dry=empty), data)
    low = None
    inside = data.pascal <= HIGHEST
    if bends_in_vapour and not inside.all() and inside.sum() >= LEAST_LOW:
        within = Data(data.seconds[inside], data.pascal[inside], data.variance[inside])
        low = fit_all(rise_models(within, pumped, bent=True, dry=empty), within)
    return Part(
        segment, start, data, found, floor if on_floor else None, begun, low, bends_in_vapour
    )


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
    power = {"tail_walls": 1.0, "tail_seals": 0.5, "throttled_tail": 1.0}.get(fit.model.name)
    if power is None:
        return float(fit.model.curve(np.array([seconds]), *values)[0])
    tau, tail = values[2], values[-1]
    at_end = float(fit.model.curve(np.array([end]), *values)[0])
    return at_end - tail * (1 - ((end + tau) / (seconds + tau)) ** power)


def slowed(fit: Fit, pascal: float) -> Callable[..., float]:
    """V/S in s at a pressure, as a function of a fit's parameters (`settles`, `throttled`)."""

    def bent(*v: float) -> float:
        return v[2] * (1 + v[3] / (pascal + MOLECULAR))

    def narrow(*v: float) -> float:
        tau, choke, slip = v[2], v[3], v[4]
        inlet = math.sqrt(choke**2 + 2 * slip * choke + (pascal + slip) ** 2) - choke - slip
        return tau * pascal / inlet

    return narrow if fit.model.kind == "throttled" else bent


def rise_rate(fit: Fit, seconds: float, since: float = 0.0) -> Estimate:
    """The mean rise in Pa/s over `seconds` from `since` (s) after the valve was shut."""
    times = np.array([since, since + seconds])

    def gained(*values: float) -> float:
        curve = fit.model.curve(times, *values)
        return float(curve[1] - curve[0]) / seconds

    return fit.of(gained, "Pa/s")


def falls_by(fit: Fit, end: float) -> float:
    """The factor by which it fell in the last five minutes, or (a short log) will in the next."""
    before = max(end - CREEP_SECONDS, 0.0)
    if before > 0.3 * end:
        return pressure_at(fit, before, end).value / pressure_at(fit, end, end).value
    return pressure_at(fit, end, end).value / pressure_at(fit, end + CREEP_SECONDS, end).value


def still_falls(fit: Fit, end: float) -> bool:
    """By more than a tenth (`falls_by`)."""
    return falls_by(fit, end) > 1.1


def throttles(pump: Part) -> float:
    """By how much ln-likelihood a throttled line explains the fall better than anything else."""
    best = {True: -math.inf, False: -math.inf}
    if pump.data.pascal.min() > THROTTLED_BELOW:
        return -math.inf
    for fit in pump.comparison.fits:
        narrow = fit.model.kind == "throttled"
        if narrow and slowed(fit, MILLIBAR)(*fit.values) < THROTTLED_TAU:
            continue
        best[narrow] = max(best[narrow], fit.log_likelihood)
    return best[True] - best[False]
