"""`troubleshoot machine`: the coater's own normal, told once."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.calc import PRESSURE

if TYPE_CHECKING:
    from troubleshoot.knowledge.machine import Machine
    from troubleshoot.physics.units import Quantity

WORSE = 1.5
"""A base this many times the one that is kept is no good day: judgement."""


@click.group()
def machine() -> None:
    """Tell, show or read in the profile of a coater."""


@machine.command("new")
def new_machine() -> None:
    """Answer a few questions about this coater; all can be skipped."""
    from troubleshoot.casebook.storage import Store
    from troubleshoot.cli.setup import interactive
    from troubleshoot.cli.terminal import TerminalAsker, TerminalTeller
    from troubleshoot.errors import UserError
    from troubleshoot.investigation.machine_questions import ask_machine

    if not interactive():
        raise UserError("There is no terminal to ask at: use `troubleshoot machine read FILE`.")
    profile = ask_machine(TerminalAsker(), TerminalTeller())
    Store().save_machine(profile)
    _kept(profile)


@machine.command("read")
@click.argument("path", type=click.Path(path_type=Path))
def read_profile(path: Path) -> None:
    """Keep the profile in a YAML file."""
    from troubleshoot.casebook.storage import Store
    from troubleshoot.readings.profile import read_machine

    profile = read_machine(path)
    Store().save_machine(profile)
    _kept(profile)


@machine.command("good-day")
@click.argument("log_file", metavar="LOG.csv", type=click.Path(path_type=Path))
@click.option("--machine", "name", help="Which coater, if several are kept.")
@click.option("--target", type=PRESSURE, help="The pressure you always wait for.")
@click.option("--loaded", is_flag=True, help="Specimens were in: the base is not that of empty.")
@click.option("--unit", help="Unit of the pressures, if the file does not say it.")
@click.option("--time-unit", help="Unit of the times, if the file does not say it.")
@click.option("--column", help="The pressure column, if there are several: part of its name.")
@click.option("--yes", is_flag=True, help="Keep it without asking.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def good_day(
    log_file: Path,
    name: str | None,
    target: "Quantity | None",
    loaded: bool,
    unit: str | None,
    time_unit: str | None,
    column: str | None,
    yes: bool,
    as_json: bool,
) -> None:
    """Keep a pump-down (or a rise) of a good day as this coater's normal.

    Shows what it read first. Gives the usual base (of an empty chamber) and, with --target or a
    known coating pressure, the usual time.
    """
    from troubleshoot.casebook.storage import Store
    from troubleshoot.cli.setup import interactive, load_rules, stored_machine
    from troubleshoot.errors import UserError
    from troubleshoot.knowledge.machine import Machine
    from troubleshoot.physics import units
    from troubleshoot.readings import pressures
    from troubleshoot.readings.log_file import NeedsUnit, read_log
    from troubleshoot.readings.profile import machine_from

    store = Store()
    known = stored_machine(name)
    if known is None and len(store.machines()) > 1:
        raise UserError("Several coaters are kept: say which with --machine.")
    coater = known or Machine()
    try:
        log = read_log(log_file, unit, time_unit, column)
    except NeedsUnit as error:
        if error.what != "pressure" or known is None:
            raise
        log = read_log(log_file, coater.gauge_unit, time_unit, column)
    wanted = target.si if target is not None else coater.numbers.get("usual_pressure")
    analysis = pressures.analyse(
        log, load_rules(()).findings, coater, empty=not loaded, target=wanted
    )
    found = analysis.reading.numbers
    numbers: dict[str, str] = {}
    base = found.get("base") or found.get("pressure_when_shut")
    if base is not None and not loaded:
        numbers["usual_base"] = units.format_in(base.value, coater.gauge_unit, "pressure")
    if "time_to_target" in found:
        numbers["usual_time"] = units.format_in(found["time_to_target"].value, "min", "time")
    if not numbers:
        raise UserError(
            f"{log_file}: no base and no time can be read from this log; give a pump-down of "
            "ten minutes, empty, or name the pressure you wait for with --target."
        )
    profile = machine_from({**coater.as_dict(), **numbers}, str(log_file))
    doubtful = _not_so_good(analysis.verdict.story, coater, profile)
    if not as_json:
        click.echo(analysis.reading.sentence)
        for key, text in numbers.items():
            was = coater.shown.get(key)
            before = f" (until now {was})" if was else ""
            click.echo(f"  {key.replace('_', ' ')}: {text}{before}")
        for sentence in doubtful:
            click.echo(f"  {sentence}")
    if not yes:
        if not interactive():
            raise UserError("Nothing is kept: there is no terminal to ask at; add --yes.")
        click.confirm(f"Keep this as the normal of {coater.name}?", abort=True)
    store.save_machine(profile)
    if as_json:
        record = {
            "machine": profile.as_dict(), "kept": numbers, "doubts": doubtful,
            "sentence": analysis.reading.sentence,
        }  # fmt: skip
        click.echo(json.dumps(record, indent=2))
        return
    click.echo(f"Kept: {profile.name}")


def _not_so_good(story: str | None, before: "Machine", after: "Machine") -> list[str]:
    """Why a day may not have been a good one."""
    from troubleshoot.readings.profile import queries

    out = []
    if story != "usual":
        out.append("Not everything here is as usual; keep it only if you know that all was well.")
    old = before.numbers.get("usual_base")
    if old and after.numbers["usual_base"] > WORSE * old:
        out.append("The base is clearly higher than the usual one that is kept.")
    return [*out, *queries(after)]


def _kept(profile: "Machine") -> None:
    """Say that a profile was kept, and what in it should be checked."""
    from troubleshoot.readings.profile import queries

    click.echo(f"Kept: {profile.name}")
    for sentence in queries(profile):
        click.echo(f"Please check: {sentence}", err=True)


@machine.command("show")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def show_machines(as_json: bool) -> None:
    """The profiles that are kept."""
    from troubleshoot.casebook.storage import Store

    profiles = [m.as_dict() for m in Store().machines()]
    if as_json:
        click.echo(json.dumps({"machines": profiles}, indent=2))
        return
    if not profiles:
        click.echo("No machine is kept yet: `troubleshoot machine new` asks for its normal.")
    for profile in profiles:
        click.echo("\n".join(f"{key}: {value}" for key, value in profile.items()) + "\n")
