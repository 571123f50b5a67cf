"""What a log shows, as text and as JSON."""

import json
import math
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.readings.current.currents import CurrentAnalysis
    from troubleshoot.readings.pressure.pressures import Analysis
    from troubleshoot.readings.reading import Estimate, Reading


def tell_current(analysis: "CurrentAnalysis") -> None:
    """The sentence, then every number with its 95 % interval, then what happened when."""
    from troubleshoot.readings.pressure.telling import with_sigma

    numbers, shown = analysis.reading.numbers, analysis.table.shown
    echo(analysis.reading.sentence)
    told = {
        "current": ("Mean current", shown.get("current", "mA"), "current"),
        "voltage": ("Mean voltage", shown.get("voltage", "V"), "voltage"),
        "pressure": ("Mean pressure", shown.get("pressure", "Pa"), "pressure"),
        "swing_period": ("Time of one swing", "s", "time"),
    }
    for name, (words, unit, dimension) in told.items():
        if name in numbers:
            echo(f"  {words}: {with_sigma(numbers[name], unit, dimension)}")
        change = numbers.get("change_in_two_minutes" if name == "current" else f"{name}_change")
        if change is not None:
            echo(f"    changes by {_percent(change)} in two minutes")
    if max(analysis.relation.values(), default=0.0) >= 0.7 and "current_after_pressure" in numbers:
        echo(f"  {_lag(numbers['current_after_pressure'])}")
    kinds = {"step": "the current steps by", "out": "the glow is out for"}
    for event in analysis.events:
        if event.kind in kinds:
            size = (
                f"{event.seconds:.0f} s" if event.kind == "out" else f"{100 * event.depth:+.0f} %"
            )
            echo(f"  At {event.start:.0f} s {kinds[event.kind]} {size}")
    for note in (analysis.table.taken, *analysis.table.notes):
        echo(f"  {note}")


def _percent(share: "Estimate") -> str:
    """`-12.3 +/- 0.8 %`, or `less than 2 %, up or down` where the interval holds zero."""
    value, wide = 100 * share.value, 196 * share.sigma
    if abs(value) <= wide:
        return f"less than {max(abs(value) + wide, 0.01):.2g} %, up or down,"
    place = min(max(0, -math.floor(math.log10(wide))), 2) if wide > 0 else 1
    return f"{value:+.{place}f} \u00b1 {max(wide, 0.01):.{place}f} %"


def _lag(lag: "Estimate") -> str:
    value, wide = lag.value, 1.96 * lag.sigma
    if abs(value) <= wide:
        return f"Current and pressure move within {abs(value) + wide:.1f} s of each other"
    word = "after" if value > 0 else "before"
    return f"The current moves {abs(value):.1f} \u00b1 {wide:.1f} s {word} the pressure"


def current_json(analysis: "CurrentAnalysis") -> str:
    """The reading of a discharge as one object, numbers in SI."""
    record: dict[str, Any] = asdict(analysis.reading)
    record["events"] = [asdict(event) for event in analysis.events]
    record["relation_to_pressure"] = dict(analysis.relation)
    record["rows"] = len(analysis.table.seconds)
    record["notes"] = list(analysis.table.notes)
    return json.dumps(record, indent=2, allow_nan=False)


def tell_pressures(analysis: "Analysis") -> None:
    """The sentence, then every number with its 95 % interval, the curves, and what was read."""
    from troubleshoot import units
    from troubleshoot.readings.pressure.telling import with_sigma

    log, reading = analysis.log, analysis.reading
    echo(reading.sentence)
    shown = {
        "base": ("Base after ten minutes", log.unit, "pressure"),
        "time_constant": ("Time constant of pumping (volume/speed)", "s", "time"),
        "speed_at_chamber": ("Speed that reaches the chamber", "L/s", "volume flow"),
        "time_to_target": ("Time to the pressure you wait for", "min", "time"),
        "rise_in_one_minute": ("Rise in the first minute", f"{log.unit}/min", "pressure rate"),
        "gas_load": ("Gas coming in", "mbar L/s", "throughput"),
    }
    for name, (words, unit, dimension) in shown.items():
        if name in reading.numbers:
            echo(f"  {words}: {with_sigma(reading.numbers[name], unit, dimension)}")
    for part in (analysis.pump, analysis.rise):
        if part is None:
            continue
        fits = zip(part.comparison.fits, part.comparison.weights, strict=True)
        odds = ", ".join(
            f"{fit.model.name.replace('_', ' ')} {100 * w:.0f} %" for fit, w in fits if w >= 0.01
        )
        what = "pumping" if part.segment.kind == "pumping" else "shut off"
        echo(f"  Curves that fit while {what}: {odds}")
    if len(analysis.segments) > 1:
        pieces = (
            f"{s.kind} from {units.format_number(log.seconds[s.first])} s to "
            f"{units.format_number(log.seconds[s.last])} s"
            for s in analysis.segments
        )
        echo(f"  In the log: {'; '.join(pieces)}")
    for note in filter(None, (log.taken, *log.notes)):
        echo(f"  {note}")


def pressures_json(reading: "Reading", analysis: "Analysis | None" = None) -> str:
    """A reading of pressures as one object, numbers in SI."""
    record: dict[str, Any] = asdict(reading)
    if analysis is not None:
        log, verdict = analysis.log, analysis.verdict
        record["verdict"] = {
            "story": verdict.story,
            "rivals": list(verdict.rivals),
            "log_likelihoods": dict(verdict.log_likelihoods),
        }
        record["segments"] = [
            {
                "kind": s.kind,
                "from_s": float(log.seconds[s.first]),
                "to_s": float(log.seconds[s.last]),
                "from_Pa": float(log.pascal[s.first]),
                "to_Pa": float(log.pascal[s.last]),
            }
            for s in analysis.segments
        ]
        record["models"] = {
            key: [
                {"name": fit.model.name, "kind": fit.model.kind, "probability": w, "aicc": fit.aicc}
                for fit, w in zip(part.comparison.fits, part.comparison.weights, strict=True)
            ]
            for key, part in (("pumping", analysis.pump), ("isolated", analysis.rise))
            if part is not None
        }
        record["rows"], record["notes"] = log.rows, list(log.notes)
    return json.dumps(record, indent=2, allow_nan=False)
