"""`troubleshoot handbook`: the whole rule base as pages to read, to carry about and to print."""

from pathlib import Path

import click

from troubleshoot.cli.echo import echo


@click.command()
@click.argument("out", type=click.Path(path_type=Path))
@click.option(
    "--rules",
    "folders",
    multiple=True,
    type=click.Path(path_type=Path),
    help="A folder of a lab's own rules on top of the shipped ones; may be given again.",
)
def handbook(out: Path, folders: tuple[Path, ...]) -> None:
    """Write the rules as a handbook into the folder OUT: open OUT/index.html.

    It needs no server, no network and no script, and searches by itself from a file. The same
    rules give the same bytes.
    """
    from troubleshoot.cli.setup import load_with_changes, make_folder
    from troubleshoot.show.files import to_file
    from troubleshoot.show.handbook.site import site

    make_folder(out)
    pages = site(*load_with_changes(folders))
    for folder in {out / Path(path).parent for path in pages}:
        make_folder(folder)
    for path, text in pages.items():
        to_file(out / path, text)
    echo(f"{len(pages)} pages written; open {out / 'index.html'}")
