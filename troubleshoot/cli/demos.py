"""`troubleshoot demos`: the demo cases, and the report of each."""

from pathlib import Path

import click


@click.command()
@click.option(
    "--reports", type=click.Path(path_type=Path), help="Write the report of every demo here."
)
def demos(reports: Path | None) -> None:
    """List the demo cases; with --reports, build the HTML report of each."""
    from troubleshoot.advice.advice import verdict
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.state import Bench
    from troubleshoot.cli.setup import demo_files, load_rules, make_folder, now
    from troubleshoot.show.files import to_file
    from troubleshoot.show.html import pages as html

    rules = load_rules(())
    if reports is not None:
        make_folder(reports)
    for path in demo_files():
        case = read_case(path, rules, now())
        bench = Bench(rules, case.machine)
        assessment = bench.assess(case.journal)
        click.echo(f"{path.stem:<28} {case.name}\n{'':<28} {verdict(assessment).sentence}")
        if reports is not None:
            target = reports / f"{path.stem}.html"
            to_file(target, html.render(assessment, bench, case.journal, made_at=now()))
            click.echo(f"{'':<28} written: {target}")
