"""`troubleshoot read`: a log, or a few typed numbers, turned into a sentence."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from troubleshoot.cli.echo import echo
from troubleshoot.cli.log_options import log_options
from troubleshoot.cli.measures import PRESSURE, RISE, VOLUME

if TYPE_CHECKING:
    from collections.abc import Mapping

    from troubleshoot.coater.machine import Machine
    from troubleshoot.knowledge.model import Finding
    from troubleshoot.readings.door import Ask
    from troubleshoot.sources.log_file import Table
    from troubleshoot.sources.times import NeedsTelling
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
@click.argument(
    "log_file", required=False, metavar="[LOG.csv|PICTURE]", type=click.Path(path_type=Path)
)
@click.argument("second", required=False, metavar="[PICTURE2]", type=click.Path(path_type=Path))
@click.option(
    "--pair", type=click.Choice(["slow-fast", "kv", "bridge", "time", "coat"]),
    help="What differs between two pictures of one field (kv: the higher first).",
)  # fmt: skip
@click.option("--pixel", help="Size of a pixel of the picture, such as 5nm.")
@click.option("--points", help='Typed instead of a log: "0 s 1000 mbar; 30 s 2 mbar; ...".')
@click.option("--typed", is_flag=True, help="Ask for times and pressures (or take them by line).")
@click.option("--base", type=PRESSURE, help="Base pressure after ten minutes, loaded.")
@click.option("--base-empty", type=PRESSURE, help="Base pressure after ten minutes, empty.")
@click.option("--rise", type=RISE, help="Rise with the pump shut off, such as 0.8mbar/min.")
@click.option("--form", is_flag=True, help="Print a form to fill in at the coater.")
@log_options
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
    second: Path | None,
    pair: str | None,
    pixel: str | None,
    points: str | None,
    typed: bool,
    form: bool,
    as_json: bool,
    plot: Path | None,
    machine_name: str | None,
    volume: "Quantity | None",
    **given: Any,
) -> None:
    """Say what a log, a micrograph, or a few numbers read by hand, show.

    A log with a column of currents is read as one of a discharge, with pressure and voltage if
    they are there; --column (or --valve, --empty, --target) reads its pressures instead.

    A micrograph (TIFF, PNG or JPEG in grey) is looked at for charging and for what only looks like
    it; with a second one of the same field, and --pair, for what became of it.
    """
    from troubleshoot.cli.read_image import tell_image
    from troubleshoot.cli.read_telling import pressures_json, tell_pressures
    from troubleshoot.cli.setup import load_rules
    from troubleshoot.errors import UserError
    from troubleshoot.readings.door import Beside, analysis_of, discharge_of, log_of
    from troubleshoot.readings.pressure.few import read_few
    from troubleshoot.readings.pressure.typed import typed_log
    from troubleshoot.sources.image_file import is_image
    from troubleshoot.sources.log_file import Told

    if form:
        echo(FORM, nl=False)
        return
    few = {name: given.pop(name) for name in ("base", "base_empty", "rise")}
    some = any(v is not None for v in few.values())
    if sum((log_file is not None, points is not None, typed, some)) != 1:
        raise UserError(
            "Name a log (troubleshoot read LOG.csv), or give --points, --typed, or two of --base, "
            "--base-empty and --rise."
        )
    findings = load_rules(()).findings
    beside = Beside(second, pair, pixel)
    if log_file is not None and (beside or is_image(log_file)):
        tell_image(log_file, findings, beside, as_json=as_json, plot=plot)
        return
    machine = _machine(machine_name, volume)
    if some:
        if plot is not None:
            raise UserError("--plot draws a curve: give a log or --points.")
        si = {name: v.si if v is not None else None for name, v in few.items()}
        reading = read_few(
            findings, machine, loaded=si["base"], empty=si["base_empty"], rise=si["rise"]
        )
        echo(pressures_json(reading) if as_json else reading.sentence)
        return
    told = Told.of(given)
    if log_file is not None and not any(given[k] for k in ("column", "valve", "empty", "target")):
        table, told = discharge_of(log_file, told, _ask())
        if table is not None:
            _tell_current(table, findings, machine, as_json=as_json, plot=plot)
            return
    unit = given["unit"] or (machine.told_unit if machine else None)
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
    analysis = analysis_of(
        log,
        findings,
        machine,
        empty=given["empty"],
        shut=None if given["valve"] is None else given["valve"] == "shut",
        target=target.si if target is not None else None,
    )
    if as_json:
        echo(pressures_json(analysis.reading, analysis))
    else:
        tell_pressures(analysis)
    if plot is not None:
        from troubleshoot.readings.pressure.pressure_plot import draw_pressures

        _write(plot, draw_pressures(analysis, machine, _earlier(machine)))


def _write(plot: Path, drawing: str) -> None:
    from troubleshoot.show.files import to_file

    to_file(plot, drawing)
    echo(f"Written: {plot}", err=True)


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


def _earlier(machine: "Machine | None") -> list[tuple[float, float]]:
    from troubleshoot.casebook.ran import pumped_before
    from troubleshoot.cli.setup import open_casebook

    return [] if machine is None else pumped_before(open_casebook(), machine)


def _ask() -> "Ask | None":
    """Asks at a terminal for what a log leaves open; None where there is none."""
    from troubleshoot.cli.setup import interactive
    from troubleshoot.readings.door import QUESTIONS

    if not interactive():
        return None

    def ask(open_: "NeedsTelling") -> str:
        question = QUESTIONS[open_.what].removesuffix(":")
        if not open_.choices:
            return str(click.prompt(question))
        for number, name in enumerate(open_.choices, start=1):
            echo(f"  {number}  {name}", err=True)
        picked = click.prompt(question, type=click.IntRange(1, len(open_.choices)), err=True)
        return open_.choices[picked - 1]

    return ask


def _lines(given: dict[str, Any], unit: str | None) -> str:
    """Times and pressures, one pair a line, up to an empty line; at a terminal also the valve."""
    from troubleshoot.cli.setup import interactive

    if not interactive():
        return sys.stdin.read()
    from troubleshoot.casebook.drafts import Draft
    from troubleshoot.cli.setup import stopping
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.talk.draft import Drafted
    from troubleshoot.talk.reading_questions import ask_points, ask_valve

    teller, draft = TerminalTeller(), Draft("readings by hand")
    with stopping("Your readings are kept: `troubleshoot read --typed` goes on with them."):
        asker = Drafted(TerminalAsker(), teller, draft)
        if given["valve"] is None:
            given["valve"] = ask_valve(asker)
        points = ask_points(asker, teller, unit, time_unit=given["time_unit"] or "s")
    draft.clear()
    return points


def _tell_current(
    table: "Table",
    findings: "Mapping[str, Finding]",
    machine: "Machine | None",
    *,
    as_json: bool,
    plot: Path | None,
) -> None:
    from troubleshoot.cli.read_telling import current_json, tell_current
    from troubleshoot.readings.current.currents import analyse

    analysis = analyse(table, findings, machine)
    if as_json:
        echo(current_json(analysis))
    else:
        tell_current(analysis)
    if plot is not None:
        from troubleshoot.readings.current.current_plot import draw_currents

        _write(plot, draw_currents(analysis, machine))
