"""`troubleshoot` alone: what is open, waits, is out of use or due, and what to type."""

from datetime import datetime
from typing import TYPE_CHECKING

from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.casebook.store import Store
    from troubleshoot.knowledge.model import RuleBase

MOST = 5
"""So many cases are named."""
TYPE = (
    ("something is wrong with the coater", "troubleshoot diagnose"),
    ("note a run, a weekly look", "troubleshoot run, troubleshoot check-up"),
    ("look a word up", "troubleshoot explain WORDS"),
    ("learn it, practise it", "troubleshoot learn, troubleshoot drill"),
    ("the lab's cases", "troubleshoot cases list"),
    ("see it work", "troubleshoot demo"),
    ("everything else", "troubleshoot --help"),
)


def home() -> None:
    """Print where things stand, and the commands that go on from there."""
    from troubleshoot.cli.setup import load_rules, open_casebook

    store, rules = open_casebook(), load_rules(())
    for line in (*_open(store, rules), *_due(store, rules)):
        echo(line)
    for what, command in TYPE:
        echo(f"  {what:<36} {command}")


def _open(store: "Store", rules: "RuleBase") -> list[str]:
    """The cases that wait, the coaters that are out of use first."""
    from troubleshoot.casebook.record import OPEN, PARKED
    from troubleshoot.casebook.wanted import Wanted
    from troubleshoot.cli.out_of_use import out_of_use
    from troubleshoot.cli.setup import going_on
    from troubleshoot.show.cases import waiting

    found = store.cases(Wanted(status=(OPEN, PARKED), limit=MOST))
    lines = [f"Open: {waiting(case)}. Go on with: {going_on(case.id)}" for case in found]
    return out_of_use(store, rules) + lines


def _due(store: "Store", rules: "RuleBase") -> list[str]:
    from troubleshoot.cli.setup import now
    from troubleshoot.upkeep.health import care_due

    today = datetime.fromisoformat(now()).date()
    return [
        f"Due on {machine.name}: {due.sentence}"
        for machine in store.machines()
        for due in care_due(store.runs(machine.name), rules.care.values(), machine, today)
    ]
