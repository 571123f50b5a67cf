"""What a command prints, with nothing left in it that a terminal obeys."""

import click

from troubleshoot.printable import visible


def echo(text: object = "", *, err: bool = False, nl: bool = True, bold: bool = False) -> None:
    """Print a text, which may hold names and words from anywhere."""
    shown = visible(str(text))
    click.echo(click.style(shown, bold=True) if bold else shown, err=err, nl=nl)
