"""`troubleshoot rules`: look after the rule base."""

import os
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from troubleshoot.cli.echo import echo
from troubleshoot.cli.groups import Whole

if TYPE_CHECKING:
    from troubleshoot.knowledge.lint.remarks import Remark

LAYERS = ("style", "schema", "references", "reachability", "sense")


@click.group(cls=Whole)
def rules() -> None:
    """Look after the rules: the shipped ones, and a lab's own on top of them."""


@rules.command("check")
@click.argument("folder", required=False, type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="The remarks as one JSON object.")
@click.option(
    "--layer", "layers", multiple=True, type=click.Choice(LAYERS), help="Only this layer."
)
@click.option("--words", type=click.Path(path_type=Path), help="Words not wanted, one a line.")
@click.option("--alone", is_flag=True, help="Check FOLDER without the shipped rules beneath it.")
@click.option(
    "--sources",
    is_flag=True,
    help="Check nothing; count how many entries rest on a citation, on a computation that the "
    "tests repeat, on common practice, on judgement alone.",
)
def check(
    folder: Path | None,
    as_json: bool,
    layers: tuple[str, ...],
    words: Path | None,
    alone: bool,
    sources: bool,
) -> None:
    """Check the shipped rules, or FOLDER on top of them.

    Exit status 0 when there is nothing to remark, 1 when there is, 2 when it cannot be read.
    """
    if sources and (layers or words):
        raise click.UsageError("--sources checks nothing: leave out --layer and --words.")
    from troubleshoot.knowledge.lint import run
    from troubleshoot.knowledge.lint.style import read_words
    from troubleshoot.knowledge.load import shipped

    folder = folder or shipped()
    alone = alone or os.path.realpath(folder) == os.path.realpath(shipped())
    folders = [folder] if alone else [shipped(), folder]
    if sources:
        _print_sources(folder, folders, as_json)
        return
    found = run.check(folders, layers or LAYERS, read_words(words) if words else ())
    if as_json:
        _print_json(folder, layers or LAYERS, found, _changes(folders))
    else:
        _print_lines(folder, found, _changes(folders))
    click.get_current_context().exit(1 if found else 0)


def _changes(folders: Sequence[Path]) -> Mapping[str, tuple[str, ...]]:
    """The entries beneath that a folder overrides, and those that it extends."""
    from troubleshoot.errors import UserError
    from troubleshoot.knowledge.load import load_with_places

    try:
        loaded = load_with_places(folders)
    except UserError:
        return {}  # the layers schema and references say why it does not load
    return {"overridden": loaded.overridden, "extended": loaded.extended}


def _print_sources(folder: Path, folders: Sequence[Path], as_json: bool) -> None:
    from troubleshoot.knowledge.load import load_with_places
    from troubleshoot.knowledge.sources import GROUNDS, counted

    counts = counted(load_with_places(folders).rules)
    if as_json:
        import json

        by_kind = {kind: {g: count[g] for g in GROUNDS} for kind, count in counts.items()}
        echo(json.dumps({"folder": str(folder), "sources": by_kind}, indent=2))
        return
    heads = "".join(f"{g:>{len(g) + 2}}" for g in (*GROUNDS, "entries", "cited or computed"))
    echo(f"{'':<16}{heads}")
    for kind, count in (*counts.items(), ("all", sum(counts.values(), Counter()))):
        share = (count["citation"] + count["computation"]) / count.total()
        numbers = "".join(f"{count[g]:>{len(g) + 2}}" for g in GROUNDS)
        echo(f"{kind:<16}{numbers}{count.total():>9}{share:>19.0%}")


def _print_json(
    folder: Path,
    layers: tuple[str, ...],
    found: "list[Remark]",
    changes: Mapping[str, tuple[str, ...]],
) -> None:
    import json

    remarks = [
        {
            "layer": remark.layer,
            "name": remark.name,
            "file": remark.place.file,
            "line": remark.place.line or None,
            "key": remark.place.key or None,
            "message": remark.message,
            "remedy": remark.remedy,
        }
        for remark in found
    ]
    record = {"folder": str(folder), "layers": list(layers), **changes, "remarks": remarks}
    echo(json.dumps(record, indent=2))


def _print_lines(
    folder: Path, found: "list[Remark]", changes: Mapping[str, tuple[str, ...]]
) -> None:
    from rich.console import Console
    from rich.text import Text

    console = Console(soft_wrap=True, highlight=False)
    for how, names in changes.items():
        for name in names:
            console.print(Text(f"{how.capitalize()}: {name}", style="dim"))
    for remark in found:
        console.print(
            Text.assemble(
                (f"{remark.place}: ", "bold"),
                f"{remark.message}; {remark.remedy}. ",
                (f"({remark.layer}, {remark.name})", "dim"),
            )
        )
    count = f"{len(found)} remark{'s' if len(found) != 1 else ''}" if found else "nothing to remark"
    console.print(Text(f"{folder}: {count}."))


@rules.command("schema")
@click.argument("what", type=click.Choice(("case", "machine", "rules")))
def schema(what: str) -> None:
    """Print what may be written in such a file, as JSON Schema.

    For an editor that completes names and marks what is wrong while a file is written; a case is
    checked against the names of the shipped rules.
    """
    import json

    from troubleshoot.case.schemas import case_schema, machine_schema
    from troubleshoot.cli.setup import load_rules
    from troubleshoot.knowledge.schema import rules_schema

    made = {
        "case": lambda: case_schema(load_rules(())),
        "machine": machine_schema,
        "rules": rules_schema,
    }
    echo(json.dumps(made[what](), indent=1))
