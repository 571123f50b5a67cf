"""`troubleshoot diagnose`: the main job, by questions or from a file."""

import json
import os
from collections.abc import Callable
from pathlib import Path

import click

from troubleshoot.cli.echo import echo


@click.command()
@click.argument("case_file", required=False, metavar="[CASE.yaml]")
@click.option("--say", help="What is wrong, as a line from the logbook; each part is asked about.")
@click.option("--no-questions", is_flag=True, help="Print the diagnosis of CASE.yaml and stop.")
@click.option("--full", is_flag=True, help="Print everything, not one screen.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")
@click.option("--report", type=click.Path(path_type=Path), help="Write the HTML report here.")
@click.option(
    "--print-all", is_flag=True, help="Unfold all of the report, so that all of it is printed."
)
@click.option("--service-sheet", type=click.Path(path_type=Path), help="Write the service sheet.")
@click.option(
    "--markdown", type=click.Path(path_type=Path), help="Write the case as Markdown for a notebook."
)
@click.option("--forms", type=click.Path(path_type=Path), help="Write blank forms of the checks.")
@click.option("--resume", is_flag=True, help="Go on with a case that is parked or open.")
@click.option("--case", "number", type=int, help="Which case --resume means (see cases list).")
@click.option("--machine", "machine_name", help="A machine profile: its name, or a YAML file.")
@click.option(
    "--rules", "rule_folders", multiple=True, type=click.Path(path_type=Path),
    help="A folder with your own rules, on top of the shipped ones.",
)  # fmt: skip
@click.option(
    "--strict", is_flag=True, help="Refuse a case file that says something that cannot be."
)
@click.option(
    "--anywhere", is_flag=True, help="Let CASE.yaml name files outside its own folder: trust it."
)
def diagnose(
    case_file: str | None,
    say: str | None,
    no_questions: bool,
    full: bool,
    as_json: bool,
    report: Path | None,
    print_all: bool,
    service_sheet: Path | None,
    markdown: Path | None,
    forms: Path | None,
    resume: bool,
    number: int | None,
    machine_name: str | None,
    rule_folders: tuple[Path, ...],
    strict: bool,
    anywhere: bool,
) -> None:
    """Find the cause. Without CASE.yaml it asks; with it, it goes on from what the file says.

    A report that was written before opens its case again: troubleshoot diagnose report.html
    """
    from troubleshoot.cli.setup import (
        find_case_file,
        interactive,
        load_rules,
        machine_named,
        now,
    )
    from troubleshoot.errors import UserError
    from troubleshoot.show.files import is_stdout, to_file

    wanted = [path for path in (report, service_sheet, markdown, forms) if path is not None]
    if resume and case_file is not None:
        raise UserError("--resume goes on with a case that is kept: leave CASE.yaml out.")
    if print_all and report is None:
        raise UserError("--print-all unfolds the report: add --report FILE.")
    if number is not None and not resume:
        raise UserError("--case says which case --resume goes on with: add --resume.")
    if say is not None and (resume or case_file is not None):
        raise UserError("--say begins a new case: leave CASE.yaml and --resume out.")
    if (as_json + sum(map(is_stdout, wanted))) > 1:
        raise UserError("Only one page, or --json, can go to standard output: name files.")
    if len({os.path.realpath(page) for page in wanted}) < len(wanted):
        raise UserError("Two pages would go into one file, and one be lost: give each its own.")
    asks = not (no_questions or as_json) and interactive()
    if say is not None and not asks:
        _show_what_is_understood(say, rule_folders, machine_name, as_json=as_json)
        return
    if case_file is None and not asks and not resume:
        raise UserError(
            "There is no terminal to ask at: name a case file (troubleshoot diagnose CASE.yaml "
            "--no-questions), or start the tool in a terminal."
        )
    rules = load_rules(rule_folders)
    chosen = machine_named(machine_name)
    signs = None
    if asks and case_file is None and not resume:
        from troubleshoot.cli.first import danger_signs

        signs = danger_signs(rules)

    from troubleshoot.advice.page import page_of
    from troubleshoot.case import embedded
    from troubleshoot.case.casefile import read_case
    from troubleshoot.case.diagnose import Bench

    if case_file is not None:
        path = find_case_file(case_file)
        if path.suffix.lower() in embedded.SUFFIXES:
            case = embedded.read_page(path, rules, chosen)
        else:
            case = read_case(path, rules, now(), chosen, anywhere=anywhere)
        if strict and case.odd:
            raise UserError(case.odd[0])
        for text in case.odd:
            echo(f"Look again: {text}", err=True)
        bench = Bench(rules, case.machine)
        journal, name = case.journal, case.name
    if asks or resume:
        from troubleshoot.cli.live import live

        bench, journal = live(
            rules,
            chosen,
            (name, bench.machine, journal) if case_file is not None else None,
            resume=resume,
            number=number,
            asks=asks,
            line=say or "",
            signs=signs,
        )
    page = page_of(bench.assess(journal), journal)
    # The files first: who shuts the pipe after a screenful wants them all the same.
    if wanted:
        from troubleshoot.show.html import pages, words
        from troubleshoot.show.markdown import as_markdown

        made_at = words.moment(now())
        made: tuple[tuple[Path | None, Callable[[], str]], ...] = (
            (report, lambda: pages.render(page, made_at=made_at, print_all=print_all)),
            (service_sheet, lambda: pages.service_sheet(page, made_at=made_at)),
            (markdown, lambda: as_markdown(page, made_at=made_at)),
            (forms, lambda: pages.forms(page)),
        )
        for target, make in made:
            if target is not None:
                to_file(target, make())
                echo(f"Written: {target}", err=True)
    if as_json:
        from troubleshoot.show.json import as_object

        echo(json.dumps(as_object(page), indent=2))
    elif not (asks or any(map(is_stdout, wanted))):
        from troubleshoot.show.plain import show

        show(page, full=full)


def _show_what_is_understood(
    say: str, rule_folders: tuple[Path, ...], machine_name: str | None, *, as_json: bool
) -> None:
    """Print what a line seems to say, and what of it was not understood."""
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.cli.setup import load_rules, machine_named
    from troubleshoot.coater.machine import Machine
    from troubleshoot.show.heard import line_as_object, show_line
    from troubleshoot.talk.heard import understand

    bench = Bench(load_rules(rule_folders), machine_named(machine_name) or Machine())
    line = understand(bench, say)
    if as_json:
        echo(json.dumps(line_as_object(line, bench.rules, bench.machine), indent=2))
    else:
        show_line(line, bench.rules, bench.machine)
