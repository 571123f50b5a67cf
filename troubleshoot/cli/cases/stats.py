"""What the casebook says of the lab."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.cases.group import as_json, cases, day
from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.casebook.store import Store
    from troubleshoot.knowledge.model import RuleBase
    from troubleshoot.show.statistics import Rightness

SEEN_AGAIN = 40
"""So many closed cases, the newest, are seen again to say how often the tool was right."""


@cases.command("stats")
@click.option("--coater", help="Only of this coater.")
@click.option("--since", metavar="DATE", help="Only cases opened on this day or later.")
@click.option("--page", type=click.Path(path_type=Path), help="Write it as an HTML page here.")
@as_json
def stats(coater: str | None, since: str | None, page: Path | None, as_json: bool) -> None:
    """What fails, what it costs, what helps.

    By coater and month: complaints, causes, minutes, days between faults, remedies tried in vain,
    spares, how often the tool was right, and care that is due.
    """
    from troubleshoot.casebook.statistics import as_text, statistics
    from troubleshoot.cli.setup import load_rules, now, open_casebook
    from troubleshoot.show.statistics import sections, show
    from troubleshoot.show.teller import TerminalTeller

    store, rules = open_casebook(), load_rules(())
    found = statistics(store, coater, day(since))
    if as_json:
        echo(as_text(found))
    elif not found.complaints:
        echo("No case with a complaint is kept there.")
    else:
        due, right = _due(store, rules, coater), _right(store, rules, coater)
        told = sections(found, rules, due, right)
        if page is None:
            show(told, TerminalTeller())
            return
        from troubleshoot.show.files import to_file
        from troubleshoot.show.html import pages, words

        to_file(page, pages.statistics(told, coater or "", made_at=words.moment(now())))
        echo(f"Written: {page}", err=True)


def _due(store: "Store", rules: "RuleBase", coater: str | None) -> dict[str, list[str]]:
    """By coater, the care that is due today."""
    from datetime import datetime

    from troubleshoot.cli.setup import now
    from troubleshoot.upkeep.health import care_due

    today = datetime.fromisoformat(now()).date()
    return {
        machine.name: [
            d.sentence
            for d in care_due(store.runs(machine.name), rules.care.values(), machine, today)
        ]
        for machine in store.machines()
        if coater in (None, machine.name)
    }


def _right(store: "Store", rules: "RuleBase", coater: str | None) -> "Rightness":
    """What it had said of what it was, in closed and proved cases with at least one answer."""
    from troubleshoot.advice.why import ranked, view
    from troubleshoot.case.diagnose import Bench, Diagnosis
    from troubleshoot.case.journal import check_all
    from troubleshoot.casebook.wanted import Wanted
    from troubleshoot.errors import UserError
    from troubleshoot.show.statistics import Rightness

    benches: dict[str, Bench] = {}
    seen_again = list[tuple[float, float, bool]]()
    wanted = Wanted(status=("closed",), coater=coater, limit=5 * SEEN_AGAIN)
    for row in store.cases(wanted):
        if len(seen_again) == SEEN_AGAIN:
            break
        causes = [c for c in row.causes if c in rules.causes]
        if not row.proved or not causes:
            continue
        try:
            journal, machine = store.journal(row.id), store.machine_of(row.id)
            check_all(journal, rules)
            case = benches.setdefault(machine.hash, Bench(rules, machine)).assess(journal)
        except UserError:
            continue  # damaged, or of rules that have changed since: `cases show` says so
        if isinstance(case, Diagnosis) and case.seen:
            seen = view(case)
            leader, sure = ranked(case, seen)[0]
            given = max(seen.belief.present.get(c, 0.0) for c in causes)
            seen_again.append((given, sure, leader.id in causes))
    return Rightness(tuple(seen_again))
