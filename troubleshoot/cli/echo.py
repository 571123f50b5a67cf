"""What a command prints: nothing in it that a terminal obeys, lines broken between words."""

import shutil
import sys
import textwrap

import click

from troubleshoot.printable import visible


def echo(text: object = "", *, err: bool = False, nl: bool = True, bold: bool = False) -> None:
    """Print a text, which may hold names and words from anywhere.

    At a terminal lines are broken between words; a pipe, and a record for programs (JSON), get each
    line as it is.
    """
    shown = visible(str(text))
    stream = sys.stderr if err else sys.stdout
    if stream is not None and stream.isatty() and not shown.startswith(("{", "[")):
        shown = "\n".join(map(_folded, shown.split("\n")))
    click.echo(click.style(shown, bold=True) if bold else shown, err=err, nl=nl)


def _folded(line: str) -> str:
    width = max(shutil.get_terminal_size().columns - 1, 20)
    if len(line) <= width:
        return line
    indent = line[: len(line) - len(line.lstrip(" "))]
    return textwrap.fill(
        line, width, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
    )
