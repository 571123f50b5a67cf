"""Cases out of the casebook and into it: a backup, a spreadsheet, another lab's book."""

import io
import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from troubleshoot.cli.cases.group import as_json, cases, filters, wanted
from troubleshoot.cli.echo import echo

MOST_TOLD = 20
"""So many broken lines are told one by one."""


@cases.command("export")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--csv", "sheet", is_flag=True, help="The list, for a spreadsheet, instead.")
@filters
def export(file: Path, sheet: bool, **given: Any) -> None:
    """Write all cases to a file.

    Whole, one JSON object a line: the backup, or for another lab's casebook.

    Machines, runs and the files of the cases go with it, names of people do not. With a filter only
    the cases that it leaves.
    """
    from troubleshoot.advice.phrases import counted
    from troubleshoot.casebook import share
    from troubleshoot.casebook import sheet as spreadsheet
    from troubleshoot.cli.setup import load_rules, now, open_casebook
    from troubleshoot.show.cases import names_of
    from troubleshoot.show.files import lines_to_file, to_file

    store, rules = open_casebook(), load_rules(())
    chosen = wanted(rules, given)
    if sheet:
        to_file(file, spreadsheet.table(store.cases(chosen), names_of(rules)))
    else:
        whole = not any(given.values())
        lines_to_file(file, share.lines(store, chosen, now(), whole=whole))
    echo(f"Written: {file} ({counted(store.count(chosen), 'case')})", err=True)


@cases.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--strict", is_flag=True, help="Keep nothing at all if a line is broken or a conflict."
)
@as_json
def import_cases(file: Path, strict: bool, as_json: bool) -> None:
    """Take in what `cases export` wrote.

    Here or in another lab; a second time changes nothing.

    A broken line is told by its number, a case that went on differently here and there as a
    conflict: what is here is kept.
    """
    from troubleshoot.advice.phrases import counted
    from troubleshoot.casebook import share
    from troubleshoot.cli.progress import progress
    from troubleshoot.cli.setup import open_casebook, stopping
    from troubleshoot.errors import UserError
    from troubleshoot.regular_file import open_regular, refuse_packed

    store, stream = open_casebook(), open_regular(file)
    refuse_packed(file, stream.peek())
    with io.TextIOWrapper(stream, encoding="utf-8", errors="replace") as text:
        kept = "Nothing was taken in." if strict else "The same command takes in the rest."
        with stopping(kept), progress("Lines") as done:
            taken = share.take(store, text, strict=strict, told=done)
    if as_json:
        echo(json.dumps(asdict(taken), indent=2))
    else:
        told = [
            counted(n, one, many)
            for n, one, many in (
                (len(taken.new), "new case", ""),
                (len(taken.longer), "case that went on over there",
                 "cases that went on over there"),
                (taken.machines, "machine", ""), (taken.runs, "run", ""), (taken.files, "file", ""),
            )
            if n
        ]  # fmt: skip
        echo(f"Taken in: {', '.join(told) or 'nothing new'}.")
        if taken.new:
            echo(f"New here: {_numbers(taken.new)}.")
        if taken.same:
            echo(f"Here already: {counted(taken.same, 'case')}.")
    troubles = [*taken.broken, *taken.conflicts]
    for text_ in troubles[:MOST_TOLD]:
        echo(text_, err=True)
    if len(troubles) > MOST_TOLD:
        echo(f"... and {len(troubles) - MOST_TOLD:,} more like these.", err=True)
    if taken.broken or taken.conflicts:
        kept = "nothing is kept" if strict else "the rest is kept"
        wrong = [
            counted(len(found), what)
            for found, what in ((taken.broken, "broken line"), (taken.conflicts, "conflict"))
            if found
        ]
        raise UserError(f"{file} has {' and '.join(wrong)}: {kept}.")


def _numbers(cases: Sequence[int]) -> str:
    """Case numbers, those in a row as their ends: `cases 1 to 9, 12`."""
    rows: list[list[int]] = []
    for number in sorted(cases):
        if rows and number == rows[-1][-1] + 1:
            rows[-1].append(number)
        else:
            rows.append([number])
    told = [f"{row[0]} to {row[-1]}" if row[1:] else str(row[0]) for row in rows]
    return f"{'cases' if cases[1:] else 'case'} {', '.join(told)}"
