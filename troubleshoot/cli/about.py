"""`troubleshoot about`: versions, the rule base, the rule engine, where cases are kept."""

import json
import platform
from collections.abc import Callable

import click

from troubleshoot import __version__
from troubleshoot.cli.echo import echo
from troubleshoot.errors import UserError


def _or_why_not(place: Callable[[], str]) -> str:
    """A place, or why there is none."""
    try:
        return place()
    except UserError as error:
        return str(error)


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def about(as_json: bool) -> None:
    """Say which version, rules and rule engine run, and where cases are kept."""
    from troubleshoot.casebook.place import data_folder, shown
    from troubleshoot.cli.setup import casebook_named, load_rules
    from troubleshoot.knowledge.load import shipped
    from troubleshoot.reasoning.engine import PLAIN, engine_name

    rules = load_rules(())
    facts = {
        "version": __version__,
        "python": platform.python_version(),
        "engine": engine_name(),
        "rule_base": rules.hash,
        "rules_folder": str(shipped()),
        "complaints": len(rules.complaints),
        "causes": len(rules.causes),
        "findings": len(rules.findings),
        "checks_and_remedies": len(rules.actions),
        "data_folder": _or_why_not(lambda: str(data_folder())),
        "casebook": _or_why_not(lambda: shown(casebook_named())),
    }
    if as_json:
        echo(json.dumps(facts, indent=2))
        return
    for key, value in facts.items():
        echo(f"{key.replace('_', ' '):<20} {value}")
    if facts["engine"] == PLAIN:
        echo()
        echo(
            "The plain matcher runs the rules, since durable-rules is not installed or does not "
            "load here (on Linux with Python 3.11 or 3.12 it is compiled). The results are the "
            "same."
        )
    echo()
    echo(
        "Probabilities in the rule base are judgement unless a source is named. Local codes, "
        "the machine's handbook and licensed practice come before anything this tool says."
    )
