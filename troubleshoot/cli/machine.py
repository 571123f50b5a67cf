"""`troubleshoot machine`: the coater's own normal, told once."""

import json
from pathlib import Path

import click


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
    click.echo(f"Kept: {profile.name}")


@machine.command("read")
@click.argument("path", type=click.Path(path_type=Path))
def read_profile(path: Path) -> None:
    """Keep the profile in a YAML file."""
    from troubleshoot.casebook.storage import Store
    from troubleshoot.readings.profile import read_machine

    profile = read_machine(path)
    Store().save_machine(profile)
    click.echo(f"Kept: {profile.name}")


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
