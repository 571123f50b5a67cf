"""Times and pressures, from a file or typed, turned into a sentence, numbers and soft findings.

What gas a base pressure is made of is the share f = (rise when shut off) x V/S / base: all of it
if gas comes in, little of it if the pump, its hose or the gauge holds the reading up. The shape of
the rise then tells a leak from vapour and from a trapped pocket. A pump-down alone cannot tell a
leak from a weak pump, and the reader says so.
"""

import hashlib
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from troubleshoot import units
from troubleshoot.coater.consequences import hose_share
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.knowledge.model import Finding
from troubleshoot.readings.pressure.curve_models import (
    IN_WORDS,
    MOLECULAR,
    pump_models,
    rise_models,
)
from troubleshoot.readings.pressure.fits import Comparison, Data, Fit, fit_all
from troubleshoot.readings.pressure.segments import (
    Segment,
    clean,
    find_segments,
    main_run,
    remarks,
    within_scale,
)
from troubleshoot.readings.quantity import likelihood
from troubleshoot.readings.reading import Estimate, Reading
from troubleshoot.sources.log_file import Log
from troubleshoot.sources.points import display_step

READER = "pressures 2"
DECISIVE = 6.0
"""Two stories whose log-likelihoods differ by less are not told apart."""
GAS_SHARE, PUMP_SHARE = 0.5, 0.25
"""Gas explains a base of which it makes at least half; the pump, one of which gas makes less than a
quarter. Judgement."""
SPEED_UNSURE = 0.25
"""In ln: a pump is slower near its limit than in the rough vacuum where V/S is seen: judgement."""
MODEL_ERROR, RATE_ERROR, BEYOND = 0.02, 0.035, 0.25
"""Of a number, and of a slope: what is wrong with it because a coater is not quite any of the
curves; and for each e-fold of time that it lies beyond the log. Judgement, checked with a
simulated coater that knows none of these curves."""
USUAL_TAU = (9.0, 0.4)
"""V/S of bench coaters in s and its spread in ln: 4 to 20 s. Judgement."""
LEFT_BY_HOSE = 0.6
"""Share of a pump's rated speed that the hose leaves near the base pressure, 0.4 to 0.9:
judgement."""
SLOW_TAU = 15.0
"""s. From the atmosphere to 10 mbar in more than a minute is slow: judgement."""
SLOW_RATIO = 2.0
ROUGH = 300.0
"""Pa. V/S is read from a pump-down that starts above 3 mbar: below, the hose has its say."""
TEN_MINUTES = 600.0
LONG_ENOUGH = 200.0
"""s. A shorter pump-down does not tell where it would end."""
CONTRARY = 0.3
"""A change of ln p against what the valve allows that cannot be a slip of the gauge: judgement."""
FIRST_SECONDS = 5.0
"""The rise "at the start" is taken over this time: at once nobody can tell."""
CREEP_SECONDS = 300.0
LEAST_SHARE = 0.01
"""No answer is made less likely than this by the shape of one curve."""
ENOUGH = 10
"""Readings of which one can be spared."""
FEWEST_TYPED = 3
"""A fall or a rise has three numbers in its simplest form."""
LEANS = 0.6
"""From this probability on the sentence names the likeliest of what it cannot tell apart."""
EDGE = 0.02
"""Share of a rise left out at each end, where the valve was turned."""

STORIES = {
    "usual": "that is as usual, and nothing here points to a fault",
    "leak": (
        "gas comes in steadily, as through a leak (a dripping load rises as straight: the empty "
        "chamber decides)"
    ),
    "vapour": "something inside gives off vapour",
    "virtual_leak": "a trapped pocket of gas empties, or a little liquid has dried up",
    "weak_pump": (
        "too little gas comes in to explain this pressure, so look at the pump, its hose and the "
        "gauge"
    ),
    "leak_and_vapour": "gas comes in steadily and something gives off vapour besides",
}
PURE = ("leak", "vapour", "virtual_leak")
SHORT = {
    "leak": "a leak",
    "vapour": "vapour",
    "virtual_leak": "a trapped pocket",
    "weak_pump": "a weak pump",
    "leak_and_vapour": "a leak together with vapour",
}


@dataclass(frozen=True)
class Part:
    """One segment with the models fitted to it; times count from `start` (s of the log)."""

    segment: Segment
    start: float
    data: Data
    comparison: Comparison


@dataclass(frozen=True)
class Account:
    """`story` is None when `rivals` (best first) cannot be told apart, or when there are none."""

    story: str | None
    rivals: tuple[str, ...]
    log_likelihoods: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Analysis:
    """Everything the reader made of a log."""

    log: Log
    segments: tuple[Segment, ...]
    pump: Part | None
    rise: Part | None
    verdict: Account
    reading: Reading


# Typed numbers


@dataclass(frozen=True)
class Point:
    """One typed reading: SI values, the place of the last digit typed (Pa), the unit as typed."""

    seconds: float
    pascal: float
    step: float
    unit: str


def typed_point(
    pair: str, unit: str | None = None, time_unit: str = "s", after: float = -math.inf
) -> Point:
    """A point from `30 s 2 mbar`; it must be later than `after` (s).

    `unit` stands for a pressure without one. Raises `UserError`.
    """
    time, pressure, digits = _pair(pair, unit, time_unit)
    if time.si <= after:
        raise UserError("its time must be later than that of the point before.")
    if pressure.si <= 0:
        raise UserError("a pressure of zero is the end of the gauge's scale; leave it out.")
    step = _typed_step(digits) * units.to_si(1, pressure.unit, "pressure")
    return Point(time.si, pressure.si, step, pressure.unit)


def typed_log(text: str, unit: str | None = None, time_unit: str = "s") -> Log:
    """A log from `0 s 1000 mbar; 30 s 2 mbar; 1:30 0.2 mbar` (semicolons or lines between).

    `unit` stands for pressures without one. Raises `UserError` naming the pair.
    """
    pairs = [part.strip() for part in re.split(r"[;\n]", text) if part.strip()]
    points: list[Point] = []
    for number, pair in enumerate(pairs, start=1):
        try:
            after = points[-1].seconds if points else -math.inf
            points.append(typed_point(pair, unit, time_unit, after))
        except UserError as error:
            raise UserError(f"Point {number}, {pair!r}: {error}") from None
    if len(points) < FEWEST_TYPED:
        raise UserError(
            f"{len(points)} points are too few for a curve: give at least three times with their "
            "pressures, better six."
        )
    t = np.array([p.seconds for p in points])
    return Log(
        source="typed",
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        seconds=t - t[0],
        pascal=np.array([p.pascal for p in points]),
        rows_each=np.ones(len(t)),
        step=np.array([p.step for p in points]),
        rows=len(t),
        unit=points[0].unit,
        typed=True,
    )


def _pair(
    pair: str, unit: str | None, time_unit: str
) -> tuple[units.Quantity, units.Quantity, str]:
    """Time and pressure of one pair, and the digits of the pressure."""
    words = re.sub(r"[,:>]\s+|=", " ", pair).split()
    for cut in range(1, len(words)):
        time, pressure = " ".join(words[:cut]), " ".join(words[cut:])
        if not re.match(r"[+-]?[0-9.]", pressure):
            continue
        return (
            units.parse(time, "time", default_unit=time_unit),
            units.parse(pressure, "pressure", default_unit=unit),
            units.tidied(pressure),
        )
    raise UserError("write a time and a pressure, for instance '30 s 2 mbar'.")


def _typed_step(text: str) -> float:
    """The place of the last digit that was typed: 0.01 for `0.35`, 1 for `20`."""
    match = re.match(r"[+-]?(\d*)[.,]?(\d*)(?:[eE]([+-]?\d+))?", text)
    if match is None:
        return 0.0
    return float(10.0 ** (-len(match[2]) + int(match[3] or 0)))


# The analysis


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
    pump = _pumping(log, falling) if falling else None
    rise = _rise(log, rising, falling) if rising else None
    numbers = _numbers(log, pump, rise, machine, target)
    if rise is not None:
        numbers["gas_share_of_base"] = _gas_share(pump, numbers, machine)
    soft = _findings(pump, rise, numbers, findings, machine, empty, target is not None)
    verdict = _verdict(pump, rise, numbers)
    if _is_usual(soft, findings):
        verdict = Account("usual", ("usual",), verdict.log_likelihoods)
    reading = Reading(
        kind="typed pressures" if log.typed else "pressure log",
        source=log.source,
        sha256=log.sha256,
        reader=READER,
        sentence=" ".join([_sentence(log, pump, rise, numbers, verdict, machine), *beside]),
        numbers=numbers,
        findings=soft,
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
    whole = Segment("isolated" if shut else "pumping", 0, len(log.seconds) - 1)
    return (within_scale(log, whole),)


def _part_data(log: Log, chosen: NDArray[np.intp], start: float) -> Data:
    step = log.step[chosen] if log.typed else display_step(log.pascal[chosen])
    return Data.of(log.seconds[chosen] - start, log.pascal[chosen], log.rows_each[chosen], step)


def _pumping(log: Log, segment: Segment) -> Part:
    places = clean(log, segment)
    if len(places) > ENOUGH and not log.typed:
        # The first one still waits at the top: the pump started somewhere before the second.
        places = places[1:]
    start = float(log.seconds[places[0]])
    data = _part_data(log, places, start)
    return Part(segment, start, data, fit_all(pump_models(data), data))


def _rise(log: Log, segment: Segment, falling: Segment | None) -> Part:
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


def _tau(pump: Part) -> Estimate | None:
    """V/S in s in the rough vacuum, where the curve starts high enough to show it."""
    if pump.data.pascal[0] < ROUGH or pump.comparison.best.estimate("tau") is None:
        return None
    return _as_modelled(pump.comparison.averaged(lambda fit: fit.of(lambda *v: v[2], "s")))


def _tau_at(pump: Part, pascal: float) -> Estimate | None:
    """V/S in s at a pressure at which the hose already lets less through (`settles`)."""
    if _tau(pump) is None:
        return None

    def there(*v: float) -> float:
        return v[2] * (1 + v[3] / (pascal + MOLECULAR))

    return _as_modelled(pump.comparison.averaged(lambda fit: fit.of(there, "s")))


def _as_modelled(number: Estimate, error: float = MODEL_ERROR) -> Estimate:
    """With what no number of readings averages out: a coater is not quite any of the curves."""
    sigma = math.hypot(number.sigma, error * number.value)
    return Estimate(number.value, sigma, number.unit)


def _numbers(
    log: Log, pump: Part | None, rise: Part | None, machine: Machine, target: float | None
) -> dict[str, Estimate]:
    out: dict[str, Estimate] = {}
    volume = machine.numbers.get("volume")
    if pump is not None:
        end = float(pump.data.seconds[-1])
        comparison = pump.comparison
        out["pumped_for"] = Estimate(end, 0.0, "s")
        step = _step_at(log, pump)
        last = _as_modelled(comparison.averaged(lambda f: _at(f, end, end)))
        out["end_pressure"] = _no_finer(last, step)
        if end >= LONG_ENOUGH:
            base = _as_modelled(comparison.averaged(lambda fit: _at(fit, TEN_MINUTES, end)))
            beyond = BEYOND * base.value * max(math.log(TEN_MINUTES / end), 0.0)
            base = Estimate(base.value, math.hypot(base.sigma, beyond), base.unit)
            out["base"] = _no_finer(base, step)
        tau = _tau(pump)
        if tau is not None:
            out["time_constant"] = tau
            if volume:
                out["speed_at_chamber"] = Estimate(
                    volume / tau.value, volume * tau.sigma / tau.value**2, "m3/s"
                )
        if target is not None:
            reached = np.flatnonzero(pump.data.pascal <= target)
            if len(reached):
                out["time_to_target"] = Estimate(float(pump.data.seconds[reached[0]]), 0.0, "s")
    if rise is not None:
        comparison = rise.comparison
        first = min(FIRST_SECONDS, float(rise.data.seconds[-1]) / 5)
        shut = _as_modelled(comparison.averaged(lambda fit: _at(fit, 0.0, 1.0)))
        if pump is not None and 0 <= rise.segment.first - pump.segment.last <= 3:
            shut = out["end_pressure"]
        out["pressure_when_shut"] = _no_finer(shut, float(log.step[rise.segment.first]))
        out["rise_at_start"] = _rise_over(log, rise, first)
        out["rise_in_one_minute"] = _rise_over(log, rise, 60.0)
        if volume:
            rate = out["rise_at_start"]
            out["gas_load"] = Estimate(volume * rate.value, volume * rate.sigma, "Pa m3/s")
    return out


def _rise_over(log: Log, rise: Part, seconds: float) -> Estimate:
    """The mean rise in Pa/s over the first `seconds`, by every model that lets it rise.

    Its uncertainty is at least that of a straight line's slope under the same scatter,
    sigma sqrt(12/n)/span, and that of the rounding of the display.
    """
    rate = rise.comparison.averaged(lambda fit: _rate(fit, seconds), without="still")
    best, span = rise.comparison.best, float(rise.data.seconds[-1])
    least = best.scatter * float(rise.data.pascal.min()) * math.sqrt(12 / best.readings) / span
    rate = _as_modelled(Estimate(rate.value, max(rate.sigma, least), rate.unit), RATE_ERROR)
    return _no_finer(rate, math.sqrt(2) * _step_at(log, rise) / max(seconds, span))


def _step_at(log: Log, part: Part) -> float:
    """The step of the display at the end of a segment, in Pa."""
    return float(log.step[part.segment.last])


def _no_finer(number: Estimate, step: float) -> Estimate:
    """With the rounding of the display, which no number of readings averages out."""
    return Estimate(number.value, math.hypot(number.sigma, step / math.sqrt(12)), number.unit)


def _at(fit: Fit, seconds: float, end: float) -> Estimate:
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


def _rate(fit: Fit, seconds: float) -> Estimate:
    """The mean rise in Pa/s over the first `seconds` after the valve was shut."""
    times = np.array([0.0, seconds])

    def gained(*values: float) -> float:
        curve = fit.model.curve(times, *values)
        return float(curve[1] - curve[0]) / seconds

    return fit.of(gained, "Pa/s")


def _gas_share(pump: Part | None, numbers: Mapping[str, Estimate], machine: Machine) -> Estimate:
    """The share of the base that the gas coming in explains: rise x V/S / base."""
    rate, base = numbers["rise_at_start"], numbers["pressure_when_shut"]
    tau, spread = USUAL_TAU
    volume, speed = machine.numbers.get("volume"), machine.numbers.get("pump_speed")
    if volume and speed:
        tau, spread = volume / ((hose_share(machine) or LEFT_BY_HOSE) * speed), 0.3
    seen = _tau_at(pump, base.value) if pump is not None else None
    if seen is not None:
        tau, spread = seen.value, math.hypot(seen.sigma / seen.value, SPEED_UNSURE)
    share = rate.value * tau / base.value
    own = math.hypot(base.sigma / base.value, spread)
    return Estimate(share, math.hypot(share * own, rate.sigma * tau / base.value), "")


# The verdict


def _verdict(pump: Part | None, rise: Part | None, numbers: Mapping[str, Estimate]) -> Account:
    """The stories that the curves leave possible. Where there is a rise, the rise decides.

    A leak together with vapour must fit better by `DECISIVE` than either alone, and a tail after
    the fall counts only if the pressure is still falling: else the simpler story stands.
    """
    if rise is not None:
        kinds = rise.comparison.kinds()
        shapes = {k: v for k, v in kinds.items() if k in PURE}
        best = max(shapes.values(), default=0.0)
        if kinds.get("leak_and_vapour", -math.inf) - best >= DECISIVE:
            shapes, best = {"leak_and_vapour": 0.0}, 0.0
        gas, weak = _share_likelihoods(numbers["gas_share_of_base"])
        told = {story: value - best + gas for story, value in shapes.items()}
        told["weak_pump"] = weak
    elif pump is not None:
        kinds = pump.comparison.kinds()
        told = {"leak": kinds["settles"], "weak_pump": kinds["settles"]}
        tails = [kinds[k] for k in ("vapour", "virtual_leak") if k in kinds]
        if tails and _still_falls(pump.comparison.best, float(pump.data.seconds[-1])):
            # A tail is a tail: what feeds it a fall alone does not say.
            told |= dict.fromkeys(("vapour", "virtual_leak"), max(tails))
    else:
        return Account(None, ())
    top = max(told.values())
    told = {k: v - top for k, v in sorted(told.items(), key=lambda item: -item[1])}
    rivals = tuple(k for k, v in told.items() if v > -DECISIVE)
    return Account(rivals[0] if len(rivals) == 1 else None, rivals, told)


def _share_likelihoods(share: Estimate) -> tuple[float, float]:
    """ln-likelihood of "gas makes the base" and of "the pump makes it" from the gas share."""
    value = max(share.value, 1e-6)
    spread = max(share.sigma / value, SPEED_UNSURE)
    if spread > 1:  # the rise is lost in the noise: only an upper limit is known
        value, spread = value + share.sigma, 0.7
    gas = max(0.0, math.log(GAS_SHARE / value)) / spread
    weak = max(0.0, math.log(value / PUMP_SHARE)) / spread
    return -0.5 * gas**2, -0.5 * weak**2


# Soft findings


def _findings(
    pump: Part | None,
    rise: Part | None,
    numbers: Mapping[str, Estimate],
    findings: Mapping[str, Finding],
    machine: Machine,
    empty: bool,
    timed: bool,
) -> dict[str, tuple[float, ...]]:
    out: dict[str, tuple[float, ...]] = {}

    def bands(name: str, number: Estimate | None) -> tuple[float, ...] | None:
        if name not in findings or number is None:
            return None
        return in_bands(findings[name], number, machine)

    base = numbers.get("base") or numbers.get("pressure_when_shut")
    base_bands = bands("base_loaded", base)
    loaded = "base_empty" if empty else "base_loaded"
    rise_bands = bands("rise_rate", numbers.get("rise_in_one_minute"))
    for name, told in ((loaded, bands(loaded, base)), ("rise_rate", rise_bands)):
        if told is not None:
            out[name] = told
    if timed and pump is not None and "pump_down_time" in findings:
        out["pump_down_time"] = _time_bands(numbers, findings["pump_down_time"], machine)
    if rise is not None:
        _add(out, findings, "rise_shape", _shape_of_rise(rise.comparison))
        if base_bands and rise_bands:
            against = _against_base(numbers["gas_share_of_base"], base_bands, rise_bands)
            _add(out, findings, "rise_against_base", against)
    if pump is not None and base_bands and "base" in numbers:
        _add(out, findings, "curve_shape", _shape_of_fall(pump, base_bands, machine))
    return {k: v for k, v in out.items() if machine.allows(findings[k].machine)}


def in_bands(finding: Finding, number: Estimate, machine: Machine) -> tuple[float, ...]:
    """P(number | answer) up to a factor, the number's own uncertainty added to the gauge's."""
    quantity = finding.quantity
    if quantity is None:
        raise ValueError(f"{finding.id} is not a quantity")
    own = number.sigma / number.value if number.value > 0 else 0.0
    spread = min(math.hypot(quantity.spread, own), 0.99)
    wider = finding.model_copy(update={"quantity": quantity.model_copy(update={"spread": spread})})
    unit = units.si_unit(quantity.dimension)
    return likelihood(wider, f"{max(number.value, 0.0):.9e} {unit}", machine)


def _time_bands(
    numbers: Mapping[str, Estimate], finding: Finding, machine: Machine
) -> tuple[float, ...]:
    """The time to the target; if it was not reached, at least the time that was pumped."""
    reached = numbers.get("time_to_target")
    if reached is not None:
        return in_bands(finding, reached, machine)
    least = in_bands(finding, numbers["pumped_for"], machine)
    # It will take longer than this: every later answer stays as likely as the one reached.
    return tuple(float(x) for x in np.maximum.accumulate(least))


def _add(
    out: dict[str, tuple[float, ...]],
    findings: Mapping[str, Finding],
    name: str,
    told: Mapping[str, float],
) -> None:
    if name in findings:
        out[name] = tuple(
            max(told.get(answer, LEAST_SHARE), LEAST_SHARE) for answer in findings[name].answers
        )


def _shape_of_rise(comparison: Comparison) -> dict[str, float]:
    kinds = comparison.kinds()
    top = max(kinds.values())
    small = math.exp(kinds.get("still", -50.0) - top)
    straight = comparison.probability("leak")
    bends = sum(comparison.probability(k) for k in ("vapour", "virtual_leak", "leak_and_vapour"))
    total = max(straight + bends, 1e-9)
    return {
        "too_small": small,
        "straight": (1 - small) * straight / total,
        "bends_over": (1 - small) * bends / total,
    }


def _against_base(
    share: Estimate, base: Sequence[float], rise: Sequence[float]
) -> dict[str, float]:
    usual = base[0] / sum(base)
    fast = sum(rise[2:]) / sum(rise)
    middle = math.sqrt(GAS_SHARE * PUMP_SHARE)
    gas = _above(share.value, middle, min(share.sigma / max(share.value, 1e-9), 1.5))
    return {
        "fits_usual": usual * (1 - fast),
        "gas_comes_in": (1 - usual) * gas + usual * fast,
        "too_small_for_base": (1 - usual) * (1 - gas),
    }


def _above(value: float, edge: float, spread: float) -> float:
    """P(true value > edge) of a log-normal reading."""
    if value <= 0:
        return 0.0
    return 0.5 * (1 + math.erf(math.log(value / edge) / (max(spread, 1e-3) * math.sqrt(2))))


def _shape_of_fall(pump: Part, base: Sequence[float], machine: Machine) -> dict[str, float]:
    slow = _slow(pump, machine)
    end = float(pump.data.seconds[-1])
    pairs = zip(pump.comparison.fits, pump.comparison.weights, strict=True)
    creeps = sum(w for fit, w in pairs if _still_falls(fit, end))
    usual = base[0] / sum(base)
    bursts = (0.0, 0.3, 0.9)[min(pump.segment.kicks, 2)]
    rest = 1 - bursts
    return {
        "usual": rest * (1 - slow) * usual,
        "slow_throughout": rest * slow,
        "creeps_down": rest * (1 - slow) * (1 - usual) * creeps,
        "stops_dead": rest * (1 - slow) * (1 - usual) * (1 - creeps),
        "bursts": bursts,
    }


def _slow(pump: Part, machine: Machine) -> float:
    """P(V/S is much longer than it should be)."""
    tau = _tau(pump)
    if tau is None:
        return 0.1
    volume, speed = machine.numbers.get("volume"), machine.numbers.get("pump_speed")
    edge = SLOW_RATIO * volume / speed if volume and speed else SLOW_TAU
    return _above(tau.value, edge, math.hypot(tau.sigma / tau.value, 0.2))


def _still_falls(fit: Fit, end: float) -> bool:
    """More than a tenth in the last five minutes, or (of a short log) in the next five."""
    before = max(end - CREEP_SECONDS, 0.0)
    if before > 0.3 * end:
        return _at(fit, before, end).value > 1.1 * _at(fit, end, end).value
    return _at(fit, end + CREEP_SECONDS, end).value < 0.9 * _at(fit, end, end).value


def _is_usual(soft: Mapping[str, Sequence[float]], findings: Mapping[str, Finding]) -> bool:
    """Everything that was read is as on a healthy coater."""
    usual = {
        "base_loaded": ("usual",),
        "base_empty": ("usual",),
        "curve_shape": ("usual",),
        "rise_rate": ("small", "ordinary"),
        "rise_against_base": ("fits_usual",),
    }
    told = [name for name in usual if name in soft]
    for name in told:
        answers = list(findings[name].answers)
        best = answers[max(range(len(answers)), key=soft[name].__getitem__)]
        if best not in usual[name]:
            return False
    return bool(told)


# The sentence


def _sentence(
    log: Log,
    pump: Part | None,
    rise: Part | None,
    numbers: Mapping[str, Estimate],
    verdict: Account,
    machine: Machine,
) -> str:
    said = []
    if pump is not None:
        shape = IN_WORDS[pump.comparison.plain(DECISIVE).model.name]
        if _slow(pump, machine) > 0.5:
            shape = shape.replace("falls", "falls slowly all the way", 1)
        if pump.segment.kicks:
            shape += ", jumping up on the way"
        end = with_sigma(numbers["end_pressure"], log.unit, "pressure")
        base = _beside(numbers.get("base"), machine.numbers.get("usual_base"))
        if base:
            end += f"; after ten minutes {base}"
        said.append(f"With the pump on the pressure {shape} (at the end {end})")
    if rise is not None:
        shape = IN_WORDS[rise.comparison.plain(DECISIVE).model.name]
        rate = with_sigma(numbers["rise_in_one_minute"], f"{log.unit}/min", "pressure rate")
        who = "with the pump shut off it" if said else "With the pump shut off the pressure"
        good = _beside(numbers["rise_in_one_minute"], machine.numbers.get("usual_rise"))
        said.append(f"{who} {shape} ({rate} over the first minute{f', {good}' if good else ''})")
    return f"{', and '.join(said)}: {_conclusion(pump, rise, numbers, verdict)}."


def _beside(number: Estimate | None, usual: float | None) -> str | None:
    """A number beside that of a good day, as far as its own uncertainty lets it be told."""
    if number is None or not usual:
        return None
    times = number.value / usual
    low, high = (times + way * 1.96 * number.sigma / usual for way in (-1, 1))
    if high <= CONTRAST:
        said = "about" if low >= 1 / CONTRAST else "no more than"
    elif low >= CONTRAST or high / max(low, 1e-9) < CONTRAST:
        said = f"{_two_figures(times)} times"
    else:
        said = f"{_two_figures(max(low, 0.0))} to {_two_figures(high)} times"
    return f"{said} that of a good day (empty)"


def _two_figures(number: float) -> str:
    return units.format_number(float(f"{number:.2g}"))


def _conclusion(
    pump: Part | None, rise: Part | None, numbers: Mapping[str, Estimate], verdict: Account
) -> str:
    if verdict.story is not None:
        return STORIES[verdict.story]
    first, *others = (SHORT[r] for r in verdict.rivals)
    listed = " or ".join(filter(None, (", ".join(others[:-1]), others[-1])))
    unsure = f"cannot tell {first} from {listed}"
    if rise is None:
        return f"{unsure}; shut the valve to the pump and read the rise"
    odds = _odds(rise, numbers)
    likeliest = max(odds, key=odds.__getitem__)
    if odds[likeliest] >= LEANS:
        # Ten in ten would be a verdict, and there is none.
        tenths = min(round(10 * odds[likeliest]), 9)
        unsure += f" (most likely {SHORT[likeliest]}, about {tenths} in 10)"
    if set(verdict.rivals) == {"leak", "vapour"}:
        return f"{unsure}; read the empty chamber: a leak stays, vapour is less"
    if set(verdict.rivals) == {"vapour", "virtual_leak"}:
        return f"{unsure}; read it again after half an hour of pumping, and empty"
    if "weak_pump" not in verdict.rivals:
        return f"{unsure}; read the rise for longer"
    if pump is None:
        return f"{unsure}; a log of the pump-down with it would help"
    share = numbers["gas_share_of_base"].value
    if PUMP_SHARE < share < GAS_SHARE:
        return f"{unsure}; gas explains {100 * share:.0f} % of the base, so perhaps it is both"
    return f"{unsure}; read the rise once more, with less noise or for longer"


def _odds(rise: Part, numbers: Mapping[str, Estimate]) -> dict[str, float]:
    """P(story) by the weights of the curves and by how much gas explains, stories alike before."""
    gas, weak = (math.exp(x) for x in _share_likelihoods(numbers["gas_share_of_base"]))
    kinds = {k: rise.comparison.probability(k) for k in (*PURE, "leak_and_vapour")}
    told = {k: p * gas for k, p in kinds.items()} | {"weak_pump": sum(kinds.values()) * weak}
    total = sum(told.values()) or 1.0
    return {k: p / total for k, p in told.items()}


def with_sigma(number: Estimate, unit: str, dimension: str) -> str:
    """`0.82 ± 0.03 mbar`: the half width holds 95 %; `less than ...` if that reaches zero."""
    value = units.from_si(number.value, unit, dimension)
    wide = 1.96 * units.from_si(number.sigma, unit, dimension)
    if wide <= 0 or not math.isfinite(wide):
        return f"{units.format_number(value)} {unit}"
    if 0 <= value < wide:
        return f"less than {units.format_number(value + wide)} {unit}"
    place = math.floor(math.log10(wide)) - (
        1 if wide / 10 ** math.floor(math.log10(wide)) < 2 else 0
    )
    if place >= 0:
        return f"{round(value, -place):.0f} \u00b1 {round(wide, -place):.0f} {unit}"
    if place < -6:
        return f"{value:.3g} \u00b1 {wide:.1g} {unit}"
    return f"{value:.{-place}f} \u00b1 {wide:.{-place}f} {unit}"


# A few numbers without a curve

CONTRAST, CONTRAST_SPREAD = 1.5, 0.15
"""Empty against loaded, or today against a good day: readings within this factor are the same; ln
spread of their ratio on one gauge on one day. Judgement."""


def read_few(
    findings: Mapping[str, Finding],
    machine: Machine | None = None,
    *,
    loaded: float | None = None,
    empty: float | None = None,
    rise: float | None = None,
) -> Reading:
    """A verdict from the base pressure loaded and empty (Pa) and the rise (Pa/s), or some of them.

    Raises `UserError` if fewer than two are given, or none is a pressure.
    """
    machine = machine or Machine()
    given = {"base": loaded, "base_empty": empty, "rise_in_one_minute": rise}
    unit_of = {"base": "Pa", "base_empty": "Pa", "rise_in_one_minute": "Pa/s"}
    numbers = {
        k: Estimate(v, BY_EYE * abs(v), unit_of[k]) for k, v in given.items() if v is not None
    }
    if len(numbers) < 2 or any(e.value < 0 for e in numbers.values()):
        raise UserError(
            "Give at least two of: base pressure loaded, base pressure empty, rise in a minute "
            "(none of them below zero)."
        )
    soft: dict[str, tuple[float, ...]] = {}
    kinds = {"base": "base_loaded", "base_empty": "base_empty", "rise_in_one_minute": "rise_rate"}
    for name, number in numbers.items():
        if kinds[name] in findings:
            soft[kinds[name]] = in_bands(findings[kinds[name]], number, machine)
    base = numbers.get("base_empty") or numbers["base"]
    said = []
    beside = (
        ("base, empty," if "base_empty" in numbers else "base", base, "usual_base"),
        ("rise", numbers.get("rise_in_one_minute"), "usual_rise"),
    )
    for words, measured, usual in beside:
        good = _beside(measured, machine.numbers.get(usual))
        said += [f"the {words} is {good}"] if good else []
    if "rise_in_one_minute" in numbers:
        numbers["rise_at_start"] = numbers["rise_in_one_minute"]
        told = []
        for number in (numbers[k] for k in ("base", "base_empty") if k in numbers):
            share = _gas_share(None, {**numbers, "pressure_when_shut": number}, machine)
            bands = in_bands(findings["base_loaded"], number, machine)
            told.append((share, _against_base(share, bands, soft["rise_rate"])))
        best = {max(against, key=against.__getitem__) for _, against in told}
        if len(best) == 1:
            numbers["gas_share_of_base"], against = told[-1]
            _add(soft, findings, "rise_against_base", against)
            said.append(AGAINST[best.pop()])
        else:
            said.append(EITHER_STATE)
    if loaded is not None and empty is not None:
        contrast = _contrast(loaded, empty, soft)
        _add(soft, findings, "load_contrast", contrast)
        said.append(CONTRASTS[max(contrast, key=contrast.__getitem__)])
    text = repr(sorted(given.items()))
    return Reading(
        kind="typed pressures",
        source="typed",
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        reader=READER,
        sentence="; ".join(said).capitalize() + ".",
        numbers=numbers,
        findings={k: v for k, v in soft.items() if machine.allows(findings[k].machine)},
    )


EITHER_STATE = (
    "whether the rise explains the base depends on which was read: loaded or empty; give it with "
    "the base of the same state alone"
)
BY_EYE = 0.05
"""Of a number read off a dial and typed: judgement."""
AGAINST = {
    "fits_usual": "base and rise are both about as usual",
    "gas_comes_in": "the rise explains the base, so gas comes in",
    "too_small_for_base": (
        "the rise is too small to explain the base, so look at the pump, its hose and the gauge"
    ),
}
CONTRASTS = {
    "same_empty": "empty and loaded the base is the same, so the load is not to blame",
    "lower_empty": (
        "empty the base is lower but still not as usual, so perhaps two things are wrong at once"
    ),
    "usual_empty": "empty the base is as usual, so what you took out gives off the gas",
}


def _contrast(
    loaded: float, empty: float, soft: Mapping[str, tuple[float, ...]]
) -> dict[str, float]:
    lower = _above(loaded / max(empty, 1e-9), CONTRAST, CONTRAST_SPREAD)
    bands = soft["base_empty"]
    usual = bands[0] / sum(bands)
    return {
        "same_empty": 1 - lower,
        "lower_empty": lower * (1 - usual),
        "usual_empty": lower * usual,
    }
