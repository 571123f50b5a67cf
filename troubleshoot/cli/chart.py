"""`troubleshoot chart`: a sheet for the wall."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.coater.machine import Machine
    from troubleshoot.knowledge.model import RuleBase
    from troubleshoot.show.sheets.paper import Sheet

PLAYS = 40
CHECKLISTS = {"start-up": "start_up", "run": "run", "shut-down": "shut_down"}
PICTURES = "pictures"
MOST_PLAYS = 2000


@click.command()
@click.argument("what", metavar="COMPLAINT|SHEET")
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path("."), show_default="this folder",
    help="The folder to write it into, as SVG and as PDF.",
)  # fmt: skip
@click.option("--paper", type=click.Choice(["A4", "A3"]), default="A4", show_default=True)
@click.option("--machine", "machine_name", help="A machine profile: its name, or a YAML file.")
@click.option(
    "--plays", type=click.IntRange(0, MOST_PLAYS), default=PLAYS, show_default=True,
    help="So many troubles are played by the chart and by the tool, to say what it costs.",
)  # fmt: skip
@click.option(
    "--rules", "folders", multiple=True, type=click.Path(path_type=Path),
    help="A folder of a lab's own rules on top of the shipped ones; may be given again.",
)  # fmt: skip
def chart(
    what: str,
    out: Path,
    paper: str,
    machine_name: str | None,
    plays: int,
    folders: tuple[Path, ...],
) -> None:
    """Make a sheet for the wall, as SVG and PDF: what to look at first for COMPLAINT.

    COMPLAINT is its ID (troubleshoot explain lists them). The steps can be read from two metres,
    cautions stand beside them, and the foot says what going by the chart costs against the tool.
    SHEET is another one: start-up, run and shut-down are checklists, pictures asks which picture
    of the microscope is yours.
    """
    from troubleshoot.cli.setup import load_rules, machine_named, make_folder
    from troubleshoot.coater.machine import Machine
    from troubleshoot.errors import UserError, nearest
    from troubleshoot.show.files import bytes_to_file, to_file
    from troubleshoot.show.sheets.checklist import checklist
    from troubleshoot.show.sheets.files import as_pdf, as_svg
    from troubleshoot.show.sheets.pictures import picture_sheet

    rules = load_rules(folders)
    machine = machine_named(machine_name) or Machine()
    if what in CHECKLISTS:
        page = checklist(CHECKLISTS[what], rules, machine, paper)
    elif what == PICTURES:
        page = picture_sheet(rules, paper)
    elif what in rules.complaints:
        page = _decision(rules, machine, what, paper, plays)
    else:
        known = [*rules.complaints, *CHECKLISTS, PICTURES]
        raise UserError(
            f"There is no chart for {what!r}{nearest(what, known)}; `troubleshoot explain` lists "
            f"the complaints, and there are {', '.join((*CHECKLISTS, PICTURES))}."
        )
    make_folder(out)
    name = f"chart_{what.replace('-', '_')}"
    to_file(out / f"{name}.svg", as_svg(page, rules.drawings))
    bytes_to_file(out / f"{name}.pdf", as_pdf(page, rules.drawings))
    echo(f"Written: {out / name}.svg and {out / name}.pdf")


def _decision(
    rules: "RuleBase", machine: "Machine", complaint: str, paper: str, plays: int
) -> "Sheet":
    """The decision chart, with what it costs at its foot."""
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.show.sheets.decision import fitted, sheet
    from troubleshoot.training.chart import Reckoning
    from troubleshoot.training.plays import compared
    from troubleshoot.training.policy import compiled, total

    by = Reckoning(Bench(rules, machine), complaint)
    fitting = [fitted(one, rules, machine, paper) for one in compiled(by)]
    best = min(fitting, key=lambda one: total(by, one))
    foot = (
        f"Made for {machine.name} from the rules {rules.hash}. Whatever stands here, the machine's "
        "own handbook, local codes and licensed practice come first. "
    )
    if plays:
        with click.progressbar(length=plays, label="Playing troubles", file=sys.stderr) as bar:

            def played(_: int) -> None:
                bar.update(1)

            found = compared(by, best, plays, played)
        cost = (
            f"What it costs: by this chart, then the tool, {found.chart:.0f} weighted minutes a "
            f"trouble; by the tool from the start {found.tool:.0f}; difference {found.more:+.0f}, "
            f"give or take {found.error:.0f} ({plays} troubles drawn from the rules and played "
            f"both ways). The chart by itself ends {round(100 * found.ended)} of 100."
        )
        echo(cost)
        foot += cost
    return sheet(best, rules, machine, foot, paper)
