"""Writes the help of every command into docs/commands.md: `python -m tests.docs_commands`."""

from collections.abc import Iterator
from pathlib import Path

import click

from troubleshoot.__main__ import cli

PAGE = Path(__file__).parent.parent / "docs" / "commands.md"
HEAD = """# Every command and its help

Written by `python -m tests.docs_commands` from the commands themselves; a test compares the two.
"""
WIDTH = 80


def helps(
    command: click.Command = cli, name: str = "troubleshoot", above: click.Context | None = None
) -> Iterator[tuple[str, str]]:
    """(the command as it is typed, its help), groups before what they hold."""
    context = click.Context(
        command, above, name, terminal_width=WIDTH, help_option_names=["-h", "--help"]
    )
    yield context.command_path, command.get_help(context)
    if isinstance(command, click.Group):
        for part in command.list_commands(context):
            inner = command.get_command(context, part)
            assert inner is not None
            if not inner.hidden:
                yield from helps(inner, part, context)


def page() -> str:
    """The whole page."""
    parts = [f"\n## {name}\n\n```text\n{text.rstrip()}\n```\n" for name, text in helps()]
    return HEAD + "".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
