"""`troubleshoot demos`: the demo cases, and the report of each."""

from pathlib import Path

import click


@click.command()
@click.option(
    "--reports", type=click.Path(path_type=Path), help="Write the report of every demo here."
)
def demos(reports: Path | None) -> None:
    """List the demo cases; with --reports, build the HTML report of each."""
    from troubleshoot.advice.page import page_of
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.cli.setup import demo_files, load_rules, make_folder, now
    from troubleshoot.show.files import to_file
    from troubleshoot.show.html import pages, words

    rules = load_rules(())
    if reports is not None:
        make_folder(reports)
    for path in demo_files():
        case = read_case(path, rules, now())
        page = page_of(Bench(rules, case.machine).assess(case.journal), case.journal)
        said = page.found.verdict.sentence if page.found else ""
        click.echo(f"{path.stem:<28} {case.name}\n{'':<28} {said}")
        if reports is not None:
            target = reports / f"{path.stem}.html"
            to_file(target, pages.render(page, made_at=words.moment(now())))
            click.echo(f"{'':<28} written: {target}")
