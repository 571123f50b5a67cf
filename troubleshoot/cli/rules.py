"""`troubleshoot rules`: look after the rule base."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from troubleshoot.knowledge.lint.remarks import Remark

LAYERS = ("style", "schema", "references", "reachability", "sense")


@click.group()
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
def check(
    folder: Path | None, as_json: bool, layers: tuple[str, ...], words: Path | None, alone: bool
) -> None:
    """Check the shipped rules, or FOLDER on top of them.

    Exit status 0 when there is nothing to remark, 1 when there is, 2 when it cannot be read.
    """
    from troubleshoot.knowledge.lint import run
    from troubleshoot.knowledge.lint.style import read_words
    from troubleshoot.knowledge.load import shipped

    folder = folder or shipped()
    alone = alone or folder.resolve() == shipped().resolve()
    folders = [folder] if alone else [shipped(), folder]
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
    click.echo(json.dumps(record, indent=2))


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
