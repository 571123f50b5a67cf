"""Looking at cases: the list, a search, one case as a page, a line or a report, others like it."""

import json
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import click

from troubleshoot.cli.cases.group import Kept, as_json, cases, filters, ids_with, number, wanted
from troubleshoot.cli.echo import echo

FIRST_PAGE = 50


@cases.command("list")
@filters
@click.option("--all", "everything", is_flag=True,
              help="All of them, in a pager, with those left before a complaint.")  # fmt: skip
@as_json
def list_cases(as_json: bool, everything: bool, **given: Any) -> None:
    """List the cases, newest first.

    Number, day, coater, complaint, how it stands, minutes, role, title.
    """
    from troubleshoot.cli.out_of_use import tell_out_of_use
    from troubleshoot.cli.setup import load_rules, open_casebook

    store, rules = open_casebook(), load_rules(())
    every = everything or as_json
    chosen = wanted(rules, given, limit=0 if every else FIRST_PAGE, starts=every)
    rows = store.cases(chosen)
    if as_json:
        echo(json.dumps({"cases": [asdict(r) for r in rows]}, indent=2))
        return
    tell_out_of_use(store, rules)
    total = len(rows) if every else store.count(chosen)
    _print(rows, rules, pager=everything)
    if not rows and (any(given.values()) or store.count()):
        echo("No case is like that.")
    elif not rows:
        echo(f"No case is kept yet in {store.place}. Start one with: troubleshoot diagnose")
    if total > len(rows):
        echo(f"The newest {len(rows)} of {total}: --all shows them all.")
    if not every:
        starts = store.count(replace(chosen, starts=True)) - total
        if starts:
            echo(f"Left before a complaint was given: {starts} (--all shows them too).")


def _print(rows: Any, rules: Any, *, pager: bool) -> None:
    from troubleshoot.cli.setup import interactive
    from troubleshoot.show import cases as show

    if not rows:
        return
    if not pager or not interactive():
        show.list_cases(rows, show.names_of(rules))
        return
    import contextlib
    import io

    text = io.StringIO()
    with contextlib.redirect_stdout(text):
        show.list_cases(rows, show.names_of(rules))
    click.echo_via_pager(text.getvalue())


@cases.command("search")
@click.argument("words", nargs=-1, required=True)
@as_json
def search(words: tuple[str, ...], as_json: bool) -> None:
    """Find cases by words.

    Cases that hold all of them, anywhere or in the names of causes, findings and remedies, the
    best match first. The beginning of a word is enough.
    """
    from troubleshoot.casebook.wanted import Wanted
    from troubleshoot.cli.setup import load_rules, open_casebook

    store, rules = open_casebook(), load_rules(())
    asked = " ".join(words)
    chosen = Wanted(words=asked, named=ids_with(asked, rules), limit=FIRST_PAGE)
    rows = store.cases(chosen)
    if as_json:
        echo(json.dumps({"cases": [asdict(r) for r in rows]}, indent=2))
        return
    _print(rows, rules, pager=False)
    if len(rows) == FIRST_PAGE and (total := store.count(replace(chosen, limit=0))) > len(rows):
        echo(f"The best {len(rows)} of {total}: more words leave fewer.")
    if not rows:
        echo(f"No case holds all of: {asked}. Fewer words, or beginnings of them, find more.")


@cases.command("show")
@number
@click.option("--journal", "raw", is_flag=True, help="Print every entry as it is kept.")
@as_json
def show_case(number: int, raw: bool, as_json: bool) -> None:
    """Show one case as a page.

    What was reported, found, done and proved, and what is left.
    """
    from troubleshoot.advice.page import page_of
    from troubleshoot.case.journal import as_records
    from troubleshoot.show.json import as_object
    from troubleshoot.show.one_case import show_case, show_journal
    from troubleshoot.show.teller import TerminalTeller

    kept = Kept(number)
    if raw:
        show_journal(kept.journal)
        return
    bench = kept.checked().bench
    page = page_of(bench.assess(kept.journal), kept.journal)
    if not as_json:
        show_case(page, kept.store.case(number), TerminalTeller())
        return
    record: dict[str, Any] = {
        "case": number,
        "machine": bench.machine.as_dict(),
        "journal": as_records(kept.journal),
        "diagnosis": as_object(page),
    }
    echo(json.dumps(record, indent=2))


@cases.command("line")
@number
def line(number: int) -> None:
    """One line for the paper book, to copy."""
    from troubleshoot.show.cases import last_remedy, names_of
    from troubleshoot.show.cases import line as one_line

    kept = Kept(number).checked()
    done = last_remedy(kept.bench.deduce(kept.journal))
    echo(one_line(kept.store.case(number), done, names_of(kept.rules)))


@cases.command("report")
@number
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--print-all", is_flag=True, help="Unfold all of it, so that all of it is printed.")
def report(number: int, file: Path, print_all: bool) -> None:
    """Write the HTML report of a case.

    Of a closed case in the past tense.
    """
    from troubleshoot.advice.page import page_of
    from troubleshoot.cli.setup import now
    from troubleshoot.show.files import to_file
    from troubleshoot.show.html import pages, words

    kept = Kept(number).checked()
    page = page_of(kept.bench.assess(kept.journal), kept.journal)
    to_file(file, pages.render(page, made_at=words.moment(now()), print_all=print_all))
    echo(f"Written: {file}", err=True)


@cases.command("mail")
@number
def mail(number: int) -> None:
    """Print a case as plain text to send to service.

    The complaint in own words, danger, the coater, its readings, what was done.
    """
    from troubleshoot.advice.page import page_of
    from troubleshoot.show.mail import as_mail

    kept = Kept(number).checked()
    echo(as_mail(page_of(kept.bench.assess(kept.journal), kept.journal)), nl=False)


@cases.command("like")
@number
@as_json
def like(number: int, as_json: bool) -> None:
    """Earlier cases like this one.

    Closed cases with the same complaint, those first whose answers agree most: what it was, and
    what cured it.
    """
    from troubleshoot.advice.phrases import counted
    from troubleshoot.casebook.alike import alike
    from troubleshoot.errors import UserError
    from troubleshoot.show import cases as show

    kept = Kept(number).checked()
    case = kept.bench.deduce(kept.journal)
    if case.known.complaint is None:
        raise UserError(f"Case {number} has no complaint yet: nothing is like it.")
    found = alike(
        kept.store, kept.journal, case.known.complaint, kept.store.case(number).coater or "", number
    )
    if as_json:
        echo(json.dumps({"like": [asdict(a) for a in found]}, indent=2))
        return
    names = show.names_of(kept.rules)
    echo(show.summary(found, names))
    for one in found[:10]:
        other = Kept(one.case.id)
        cure = show.last_remedy(other.bench.deduce(other.journal))
        common = len(one.agree) + len(one.differ)
        agree = f"{len(one.agree)} of {counted(common, 'common answer')} agree"
        agree = agree if common else "no answers in common"
        echo(f"  {show.line(one.case, cure, names)} ({agree})")
