"""`troubleshoot drill`: a hidden fault on a coater that can be broken safely."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.echo import echo

if TYPE_CHECKING:
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.training.drill.play import Picture, Played
    from troubleshoot.training.drill.trouble import Trouble

EXAM = 5
MOST_SEED = 10**6


@click.command()
@click.option("--level", type=click.IntRange(1, 5), help="1 (easily seen) to 5 (perhaps two).")
@click.option("--seed", type=click.IntRange(0, MOST_SEED), help="Repeats the drill of that number.")
@click.option("--from-case", "number", type=int, help="A closed case of the lab's own as a drill.")
@click.option("--exam", is_flag=True, help="Five drills without help, and a sheet to sign.")
@click.option(
    "--role", type=click.Choice(["student", "experienced", "in_charge"]), default="student",
    show_default=True, help="Whose progress it is: a role, never a name.",
)  # fmt: skip
@click.option(
    "--pictures", type=click.Path(path_type=Path), help="Keep curves (SVG) and pictures (PNG) here."
)
@click.option("--sheet", type=click.Path(path_type=Path), help="Write the sheet of --exam, a PDF.")
def drill(
    level: int | None,
    seed: int | None,
    number: int | None,
    exam: bool,
    role: str,
    pictures: Path | None,
    sheet: Path | None,
) -> None:
    """Practise: find a hidden fault on a simulated coater, with a clock of simulated minutes.

    Look at things and do things in any order, then say what it is; afterwards it tells the path of
    an expert and what should have told. Levels: 1 one fault that is easily seen, 2 one that hides,
    3 perhaps nothing, 4 perhaps a gauge that misleads, 5 perhaps two faults. Nothing of it is
    counted among the lab's cases or learnt from.
    """
    from troubleshoot.case.diagnose import Bench
    from troubleshoot.casebook.drills import kept
    from troubleshoot.cli.setup import interactive, load_rules, make_folder, open_casebook
    from troubleshoot.errors import UserError
    from troubleshoot.training.drill.progress import next_level, summary
    from troubleshoot.training.drill.trouble import drawn, from_case, practice_machine

    if exam and (number is not None or level is not None):
        raise UserError("--exam draws its own five drills: leave --level and --from-case out.")
    if number is not None and level is not None:
        raise UserError("--from-case is of no level: leave --level out.")
    if sheet is not None and not exam:
        raise UserError("--sheet is the sheet of an exam: add --exam.")
    if not interactive():
        raise UserError("There is no terminal to ask at: start the drill in one.")
    if pictures is not None:
        make_folder(pictures)
    rules, store = load_rules(()), open_casebook()
    before = kept(store, role)
    if number is not None:
        trouble = from_case(rules, number, store.journal(number), store.machine_of(number))
        _one(Bench(rules, trouble.machine), trouble, role, pictures=pictures)
        return
    bench = Bench(rules, practice_machine())
    first = seed if seed is not None else len(before) + 1
    if exam:
        _exam(bench, first, role, pictures, sheet)
        return
    echo(summary(before, told=level is not None))
    _one(bench, drawn(bench, level or next_level(before), first), role, pictures=pictures)


def _one(
    bench: "Bench",
    trouble: "Trouble",
    role: str,
    *,
    pictures: Path | None,
    exam: bool = False,
) -> "Played":
    """Play one drill and keep how it went."""
    from troubleshoot.casebook import drills
    from troubleshoot.cli.setup import now, open_casebook
    from troubleshoot.show.teller import TerminalTeller
    from troubleshoot.show.terminal import TerminalAsker
    from troubleshoot.training.drill.play import play
    from troubleshoot.training.drill.progress import kept_of
    from troubleshoot.training.drill.room import Room

    played = play(
        Room(bench, trouble, role), TerminalAsker(), TerminalTeller(), helped=not exam,
        picture=_keeper(pictures, trouble),
    )  # fmt: skip
    if played.debrief is not None:
        drills.keep(open_casebook(), kept_of(played, now(), role, exam=exam))
    return played


def _keeper(folder: Path | None, trouble: "Trouble") -> "Picture":
    """Writes each curve and picture into the folder, numbered; without one it keeps nothing."""
    from troubleshoot.show.curves import as_svg
    from troubleshoot.show.files import bytes_to_file, to_file
    from troubleshoot.training.figures import Curves, Micrograph
    from troubleshoot.training.micrograph import as_png

    count = 0

    def keep(figure: Curves | Micrograph) -> None:
        nonlocal count
        if folder is None:
            return
        count += 1
        path = folder / f"drill_{trouble.level}_{trouble.seed}_{count}"
        if isinstance(figure, Micrograph):
            path = path.with_suffix(".png")
            bytes_to_file(path, as_png(figure.pixels))
        else:
            path = path.with_suffix(".svg")
            to_file(path, as_svg(figure))
        echo(f"Kept: {path}", err=True)

    return keep


def _exam(bench: "Bench", first: int, role: str, pictures: Path | None, sheet: Path | None) -> None:
    """One drill of each level without help, then the sheet."""
    from troubleshoot.cli.setup import now
    from troubleshoot.show.files import bytes_to_file
    from troubleshoot.show.sheets.exam import exam_sheet, lines_of
    from troubleshoot.show.sheets.files import as_pdf
    from troubleshoot.training.drill.progress import kept_of
    from troubleshoot.training.drill.trouble import drawn

    done = []
    for level in range(1, EXAM + 1):
        played = _one(bench, drawn(bench, level, first), role, pictures=pictures, exam=True)
        if played.debrief is None:
            echo("The exam ends here, unfinished: no sheet is made.")
            return
        done.append(kept_of(played, now(), role, exam=True))
    for line in lines_of(done, bench.rules):
        echo(line)
    if sheet is not None:
        bytes_to_file(sheet, as_pdf(exam_sheet(done, bench.rules)))
        echo(f"To sign: {sheet}")
