"""`troubleshoot demos`: the demo cases, and the report of each."""

from pathlib import Path

import click

from troubleshoot.cli.echo import echo

OPENED = "2026-03-02T09:00:00"
"""When a demo was opened that does not say so itself: a clock would make each report another."""


@click.command()
@click.option(
    "--reports", type=click.Path(path_type=Path),
    help="Write the report of every demo here, and index.html, which lists them.",
)  # fmt: skip
def demos(reports: Path | None) -> None:
    """List the demo cases; with --reports, build the HTML report of each.

    The same rules make the same reports, byte by byte: they bear the time of the case.
    """
    from troubleshoot.advice.page import CasePage, page_of
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.cli.setup import demo_files, load_rules, make_folder
    from troubleshoot.show.files import to_file
    from troubleshoot.show.html import pages, words

    rules = load_rules(())
    made: list[tuple[str, CasePage]] = []
    if reports is not None:
        make_folder(reports)
    for path in demo_files():
        case = read_case(path, rules, OPENED)
        page = page_of(Bench(rules, case.machine).assess(case.journal), case.journal)
        said = page.found.verdict.sentence if page.found else ""
        echo(f"{path.stem:<28} {case.name}\n{'':<28} {said}")
        if reports is not None:
            target = reports / f"{path.stem}.html"
            at = words.moment(case.journal[-1].at)
            to_file(target, pages.render(page, made_at=at))
            made.append((target.name, page))
            echo(f"{'':<28} written: {target}")
    if reports is not None:
        target = to_file(reports / "index.html", pages.index(made))
        echo(f"They are listed in: {target}")
