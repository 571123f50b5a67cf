"""`troubleshoot cases`: the lab's cases, one by one."""

import json
from dataclasses import asdict
from typing import Any

import click


@click.group()
def cases() -> None:
    """List, show and close the cases that are kept."""


@cases.command("list")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def list_cases(as_json: bool) -> None:
    """All cases, newest first."""
    from troubleshoot.cli.setup import open_casebook

    store = open_casebook()
    rows = store.cases()
    if as_json:
        click.echo(json.dumps({"cases": [asdict(r) for r in rows]}, indent=2))
        return
    if not rows:
        click.echo(f"No case is kept yet in {store.place}. Start one with: troubleshoot diagnose")
    for row in rows:
        end = row.cause or row.outcome or ""
        until = f"until {row.parked_until.replace('T', ' ')}" if row.parked_until else ""
        complaint = (row.complaint or "no complaint yet").replace("_", " ")
        when = row.opened_at.replace("T", " ")[:16]
        click.echo(
            f"{row.id:>4}  {when}  {complaint:<22} {row.status:<7} "
            f"{until}{end.replace('_', ' ')} {row.name}".rstrip()
        )


@cases.command("show")
@click.argument("number", type=int)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def show_case(number: int, as_json: bool) -> None:
    """One case: its journal, and where it stands."""
    from troubleshoot.advice.page import page_of
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.case.journal import as_records, check_all
    from troubleshoot.cli.setup import load_rules, open_casebook
    from troubleshoot.show.json import as_object
    from troubleshoot.show.plain import show

    store, rules = open_casebook(), load_rules(())
    journal, machine = store.journal(number), store.machine_of(number)
    check_all(journal, rules)
    page = page_of(Bench(rules, machine).assess(journal), journal)
    if as_json:
        record: dict[str, Any] = {
            "case": number,
            "machine": machine.as_dict(),
            "journal": as_records(journal),
            "diagnosis": as_object(page),
        }
        click.echo(json.dumps(record, indent=2))
        return
    for entry in journal:
        said = ", ".join(f"{k} {v}" for k, v in entry.data.items() if k not in ("rules", "machine"))
        click.echo(f"{entry.number:>4}  {entry.at.replace('T', ' ')}  {entry.kind:<13} {said}")
    show(page)


@cases.command("close")
@click.argument("number", type=int)
@click.option(
    "--cause",
    multiple=True,
    metavar="ID",
    help="What it was: a cause's ID, or `unlisted`; again for a second cause.",
)
@click.option("--outcome", help="cured, workaround, service, normal or unsolved.")
@click.option("--proved-by", help="How it is known, in a few words.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def close_case(
    number: int, cause: tuple[str, ...], outcome: str | None, proved_by: str | None, as_json: bool
) -> None:
    """Close a case: two short questions, or the same as options."""
    from troubleshoot.case.diagnose import Bench, Diagnosis
    from troubleshoot.case.entries import Closed
    from troubleshoot.case.journal import check_all
    from troubleshoot.cli.setup import interactive, load_rules, now, open_casebook
    from troubleshoot.errors import UserError
    from troubleshoot.show.terminal import TerminalAsker, TerminalTeller
    from troubleshoot.talk.conversation import Conversation
    from troubleshoot.talk.ending import close

    store, rules = open_casebook(), load_rules(())
    journal = store.journal(number)
    check_all(journal, rules)
    talk = Conversation(
        Bench(rules, store.machine_of(number)),
        TerminalAsker(),
        TerminalTeller(),
        journal,
        lambda entry: store.save(number, entry),
        now,
    )
    case = talk.facts()
    if case.known.closed is not None:
        raise UserError(f"Case {number} is closed already.")
    if not cause and outcome is None:
        if not interactive() or not isinstance(case, Diagnosis):
            raise UserError(
                "Say how it ended: --outcome cured --cause ID --proved-by '...' (there is no "
                "terminal to ask at, or the case has no complaint yet)."
            )
        close(talk, case)
    else:
        talk.add(
            Closed(
                outcome=outcome or "cured",
                cause=(list(cause) if cause[1:] else "".join(cause)) or None,
                proved_by=proved_by,
                by=case.known.role,
            )
        )
    if as_json:
        click.echo(json.dumps({"case": number, "closed": dict(talk.journal[-1].data)}, indent=2))
    else:
        click.echo(f"Case {number} is closed and kept.")
