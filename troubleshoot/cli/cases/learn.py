"""What the lab has learnt from its closed cases, and a second opinion on one of them."""

import json
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.cases.group import Kept, as_json, cases, number
from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.casebook.store import Store
    from troubleshoot.coater.machine import Machine


@cases.command("learned")
@click.option("--coater", help="For which coater; without it the only one that is stored.")
@as_json
def learned(coater: str | None, as_json: bool) -> None:
    """What closed cases change in the rates.

    Before and after, and how many cases stand behind it: what the next diagnosis goes by. Nothing
    is learnt from open cases; a cause that nobody proved counts half.
    """
    from troubleshoot.casebook.tally import tally
    from troubleshoot.cli.setup import load_rules, now, open_casebook
    from troubleshoot.show.learned import as_object, show
    from troubleshoot.show.teller import TerminalTeller

    store, rules = open_casebook(), load_rules(())
    machine = _machine(coater, store)
    known = tally(store, machine.name, now(), rules.settings)
    if as_json:
        echo(json.dumps(as_object(rules, machine, known), indent=2))
    elif not known.cases:
        echo("Nothing is learnt yet: no closed case says what it was.")
    else:
        show(rules, machine, known, TerminalTeller())


def _machine(coater: str | None, store: "Store") -> "Machine":
    """The stored profile of that name, or one that has only the name."""
    from troubleshoot.cli.setup import stored_machine
    from troubleshoot.coater.machine import Machine

    if coater is not None and coater not in {m.name for m in store.machines()}:
        return Machine(name=coater)
    return stored_machine(coater, store) or Machine()


@cases.command("again")
@number
@as_json
def again(number: int, as_json: bool) -> None:
    """A second opinion on a case.

    The same journal under the rules of today, with the book of then and with that of now, which
    does not count the case itself. Nothing of it is kept.
    """
    from troubleshoot.advice.phrases import chance, lower_first
    from troubleshoot.advice.why import ranked, view
    from troubleshoot.case.diagnose import Diagnosis
    from troubleshoot.case.entries import Book, Opened
    from troubleshoot.case.journal import Journal, enter, standing
    from troubleshoot.casebook.tally import tally
    from troubleshoot.cli.setup import now
    from troubleshoot.errors import UserError
    from troubleshoot.show.cases import name_of, names_of
    from troubleshoot.show.html.words import book_words

    kept = Kept(number).checked()
    bench = kept.bench
    row = kept.store.case(number)
    known = tally(kept.store, row.coater or "", now(), kept.rules.settings, without=number)
    books: tuple[tuple[str, Journal], ...] = (
        ("then", kept.journal),
        ("now", enter(kept.journal, now(), Book.of(known), kept.rules)),
    )
    said: dict[str, tuple[str, list[tuple[str, float]]]] = {}
    for when, journal in books:
        case = bench.assess(journal)
        if not isinstance(case, Diagnosis):
            raise UserError(f"Case {number} has no complaint: there is nothing to be said of it.")
        first = [(cause.id, round(p, 4)) for cause, p in ranked(case, view(case))]
        said[when] = book_words(case.known.book), first
    opened = next((e.said for e in standing(kept.journal) if isinstance(e.said, Opened)), None)
    if as_json:
        opinions = {when: {"reckoned_with": w, "first": first} for when, (w, first) in said.items()}
        echo(json.dumps({"case": number, "causes": row.causes, **opinions}, indent=2))
        return
    if opened is not None and opened.rules != kept.rules.hash:
        echo(f"Opened under the rules {opened.rules}; these are the rules {kept.rules.hash}.")
    names = names_of(kept.rules)
    for when, (words, first) in said.items():
        likely = ", ".join(f"{lower_first(name_of(c, names))} ({chance(p)})" for c, p in first)
        echo(f"With the book of {when}, {words}: {likely}.")
    if row.cause:
        echo(f"It was: {', '.join(lower_first(name_of(c, names)) for c in row.causes)}.")
