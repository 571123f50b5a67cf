"""`troubleshoot read`: a log, or a few typed numbers, turned into a sentence."""

import json
import math
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from troubleshoot.cli.measures import PRESSURE, RISE, VOLUME

if TYPE_CHECKING:
    from collections.abc import Mapping

    from troubleshoot.coater.machine import Machine
    from troubleshoot.knowledge.model import Finding
    from troubleshoot.readings.current.currents import CurrentAnalysis
    from troubleshoot.readings.door import Ask
    from troubleshoot.readings.pressure.pressures import Analysis
    from troubleshoot.readings.reading import Estimate, Reading
    from troubleshoot.sources.log_file import Table
    from troubleshoot.units import Quantity

FORM = """\
PRESSURE BY HAND                      date ________  coater ______________  by ______

Unit on the gauge: ________     In the chamber: [ ] nothing  [ ] ____________________

1. Pumping down (argon shut)          2. Pump valve shut, watch it rise
   time        pressure                  time        pressure
   start       __________                0 min       __________
   30 s        __________                1 min       __________
   1 min       __________                2 min       __________
   2 min       __________                3 min       __________
   5 min       __________                4 min       __________
   10 min      __________                5 min       __________

3. If there is time: base after ten minutes, empty __________  loaded __________

Type it in:  troubleshoot read --valve open --points "0 s 1000 mbar; 30 s 2 mbar; ..."
             troubleshoot read --valve shut --points "0 min 0.2 mbar; 1 min 1 mbar; ..."
             troubleshoot read --base 0.2mbar --base-empty 0.05mbar --rise 0.8mbar/min
"""


@click.command()
@click.argument("log_file", required=False, metavar="[LOG.csv]", type=click.Path(path_type=Path))
@click.option("--points", help='Typed instead of a log: "0 s 1000 mbar; 30 s 2 mbar; ...".')
@click.option("--typed", is_flag=True, help="Ask for times and pressures (or take them by line).")
@click.option("--base", type=PRESSURE, help="Base pressure after ten minutes, loaded.")
@click.option("--base-empty", type=PRESSURE, help="Base pressure after ten minutes, empty.")
@click.option("--rise", type=RISE, help="Rise with the pump shut off, such as 0.8mbar/min.")
@click.option("--form", is_flag=True, help="Print a form to fill in at the coater.")
@click.option("--unit", help="Unit of the pressures, if the file does not say it or is wrong.")
@click.option("--time-unit", help="Unit of the times: s, min, h, ms, hh:mm or mm:ss.")
@click.option("--column", help="The pressure column, if there are several: part of its name.")
@click.option(
    "--valve", type=click.Choice(["open", "shut"]),
    help="The pump valve during the whole log, if you know it.",
)  # fmt: skip
@click.option("--empty", is_flag=True, help="Nothing was in the chamber.")
@click.option("--target", type=PRESSURE, help="The pressure you always wait for.")
@click.option("--machine", "machine_name", help="A machine profile: its name, or a YAML file.")
@click.option("--volume", type=VOLUME, help="Chamber and everything up to the shut valve.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, numbers in SI.")
@click.option("--plot", type=click.Path(path_type=Path), help="Write a drawing (SVG) here.")
def read(
    log_file: Path | None,
    points: str | None,
    typed: bool,
    form: bool,
    as_json: bool,
    plot: Path | None,
    machine_name: str | None,
    volume: "Quantity | None",
    **given: Any,
) -> None:
    """Say what a log, or a few numbers read by hand, show.

    A log with a column of currents is read as one of a discharge, with pressure and voltage if
    they are there; --column (or --valve, --empty, --target) reads its pressures instead.
    """
    from troubleshoot.cli.setup import load_rules
    from troubleshoot.errors import UserError
    from troubleshoot.readings.door import Told, discharge_of, log_of
    from troubleshoot.readings.pressure import pressures
    from troubleshoot.readings.pressure.few import read_few
    from troubleshoot.readings.pressure.typed import typed_log

    if form:
        click.echo(FORM, nl=False)
        return
    few = {name: given.pop(name) for name in ("base", "base_empty", "rise")}
    some = any(v is not None for v in few.values())
    if sum((log_file is not None, points is not None, typed, some)) != 1:
        raise UserError(
            "Name a log (troubleshoot read LOG.csv), or give --points, --typed, or two of --base, "
            "--base-empty and --rise."
        )
    machine = _machine(machine_name, volume)
    findings = load_rules(()).findings
    if some:
        if plot is not None:
            raise UserError("--plot draws a curve: give a log or --points.")
        si = {name: v.si if v is not None else None for name, v in few.items()}
        reading = read_few(
            findings, machine, loaded=si["base"], empty=si["base_empty"], rise=si["rise"]
        )
        click.echo(_json(reading) if as_json else reading.sentence)
        return
    told = Told(given["unit"], given["time_unit"], given["column"])
    if log_file is not None and not any(given[k] for k in ("column", "valve", "empty", "target")):
        table, told = discharge_of(log_file, told, _ask())
        if table is not None:
            _tell_current(table, findings, machine, as_json=as_json, plot=plot)
            return
    unit = given["unit"] or (machine.gauge_unit if machine else None)
    log = (
        log_of(log_file, machine, told, _ask())
        if log_file is not None
        else typed_log(
            points if points is not None else _lines(given, unit),
            unit,
            given["time_unit"] or "s",
        )
    )
    target = given["target"]
    analysis = pressures.analyse(
        log,
        findings,
        machine,
        empty=given["empty"],
        shut=None if given["valve"] is None else given["valve"] == "shut",
        target=target.si if target is not None else None,
    )
    if as_json:
        click.echo(_json(analysis.reading, analysis))
    else:
        _tell(analysis)
    if plot is not None:
        from troubleshoot.readings.pressure.pressure_plot import draw_pressures

        _write(plot, draw_pressures(analysis, machine))


def _write(plot: Path, drawing: str) -> None:
    from troubleshoot.show.files import to_file

    to_file(plot, drawing)
    click.echo(f"Written: {plot}", err=True)


def _machine(name: str | None, volume: "Quantity | None") -> "Machine | None":
    """The machine that is named or, if only one is stored, that one; `volume` overrules it."""
    import dataclasses

    from troubleshoot.cli.setup import stored_machine
    from troubleshoot.coater.machine import Machine
    from troubleshoot.coater.profile import read_machine

    from_file = name is not None and name.endswith((".yaml", ".yml"))
    machine = read_machine(Path(str(name))) if from_file else stored_machine(name)
    if volume is None:
        return machine
    own = machine or Machine()
    return dataclasses.replace(own, numbers={**own.numbers, "volume": volume.si})


def _ask() -> "Ask | None":
    """Asks for a unit at a terminal; None where there is none."""
    from troubleshoot.cli.setup import interactive
    from troubleshoot.readings.door import QUESTIONS

    if not interactive():
        return None
    return lambda what: str(click.prompt(QUESTIONS[what].removesuffix(":")))


def _tell_current(
    table: "Table",
    findings: "Mapping[str, Finding]",
    machine: "Machine | None",
    *,
    as_json: bool,
    plot: Path | None,
) -> None:
    from troubleshoot.readings.current.currents import analyse

    analysis = analyse(table, findings, machine)
    if as_json:
        click.echo(_current_json(analysis))
    else:
        _tell_discharge(analysis)
    if plot is not None:
        from troubleshoot.readings.current.current_plot import draw_currents

        _write(plot, draw_currents(analysis, machine))


def _tell_discharge(analysis: "CurrentAnalysis") -> None:
    """The sentence, then every number with its 95 % interval, then what happened when."""
    from troubleshoot.readings.pressure.telling import with_sigma

    numbers, shown = analysis.reading.numbers, analysis.table.shown
    click.echo(analysis.reading.sentence)
    told = {
        "current": ("Mean current", shown.get("current", "mA"), "current"),
        "voltage": ("Mean voltage", shown.get("voltage", "V"), "voltage"),
        "pressure": ("Mean pressure", shown.get("pressure", "Pa"), "pressure"),
        "swing_period": ("Time of one swing", "s", "time"),
    }
    for name, (words, unit, dimension) in told.items():
        if name in numbers:
            click.echo(f"  {words}: {with_sigma(numbers[name], unit, dimension)}")
        change = numbers.get("change_in_two_minutes" if name == "current" else f"{name}_change")
        if change is not None:
            click.echo(f"    changes by {_percent(change)} in two minutes")
    if max(analysis.relation.values(), default=0.0) >= 0.7 and "current_after_pressure" in numbers:
        click.echo(f"  {_lag(numbers['current_after_pressure'])}")
    kinds = {"step": "the current steps by", "out": "the glow is out for"}
    for event in analysis.events:
        if event.kind in kinds:
            size = (
                f"{event.seconds:.0f} s" if event.kind == "out" else f"{100 * event.depth:+.0f} %"
            )
            click.echo(f"  At {event.start:.0f} s {kinds[event.kind]} {size}")
    for note in analysis.table.notes:
        click.echo(f"  {note}")


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


def _current_json(analysis: "CurrentAnalysis") -> str:
    record: dict[str, Any] = asdict(analysis.reading)
    record["events"] = [asdict(event) for event in analysis.events]
    record["relation_to_pressure"] = dict(analysis.relation)
    record["rows"] = len(analysis.table.seconds)
    record["notes"] = list(analysis.table.notes)
    return json.dumps(record, indent=2, allow_nan=False)


def _lines(given: dict[str, Any], unit: str | None) -> str:
    """Times and pressures, one pair a line, up to an empty line; at a terminal also the valve."""
    from troubleshoot.cli.setup import interactive

    if not interactive():
        return sys.stdin.read()
    from troubleshoot.show.terminal import TerminalAsker, TerminalTeller
    from troubleshoot.talk.reading_questions import ask_points, ask_valve

    asker = TerminalAsker()
    if given["valve"] is None:
        given["valve"] = ask_valve(asker)
    return ask_points(asker, TerminalTeller(), unit, time_unit=given["time_unit"] or "s")


def _tell(analysis: "Analysis") -> None:
    from troubleshoot import units
    from troubleshoot.readings.pressure.telling import with_sigma

    log, reading = analysis.log, analysis.reading
    click.echo(reading.sentence)
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
            click.echo(f"  {words}: {with_sigma(reading.numbers[name], unit, dimension)}")
    for part in (analysis.pump, analysis.rise):
        if part is None:
            continue
        fits = zip(part.comparison.fits, part.comparison.weights, strict=True)
        odds = ", ".join(
            f"{fit.model.name.replace('_', ' ')} {100 * w:.0f} %" for fit, w in fits if w >= 0.01
        )
        what = "pumping" if part.segment.kind == "pumping" else "shut off"
        click.echo(f"  Curves that fit while {what}: {odds}")
    if len(analysis.segments) > 1:
        pieces = (
            f"{s.kind} from {units.format_number(log.seconds[s.first])} s to "
            f"{units.format_number(log.seconds[s.last])} s"
            for s in analysis.segments
        )
        click.echo(f"  In the log: {'; '.join(pieces)}")
    for note in log.notes:
        click.echo(f"  {note}")


def _json(reading: "Reading", analysis: "Analysis | None" = None) -> str:
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
