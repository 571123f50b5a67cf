"""Groups of commands whose help says whole sentences, and shows each command at work."""

import re
from functools import cache
from pathlib import Path

import click

LONGEST = 400
"""So many letters of a command's first sentence are shown at most: all of any of them."""
EXAMPLES = Path(__file__).with_name("examples.txt")
"""One example a line; each is run by a test. They speak of the demo cases and of a lab's files."""


class Whole(click.Group):
    """Lists its commands with their first sentence whole, and gives each its examples."""

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """As `click.Group`, without the three dots in which it ends a long sentence."""
        rows = [
            (name, command.get_short_help_str(LONGEST))
            for name in self.list_commands(ctx)
            if (command := self.get_command(ctx, name)) is not None and not command.hidden
        ]
        if rows:
            with formatter.section("Commands"):
                formatter.write_dl(rows)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command, with its examples at the end of its help."""
        command = super().get_command(ctx, cmd_name)
        return None if command is None else with_examples(command, f"{ctx.info_name} {cmd_name}")


def with_examples(command: click.Command, path: str) -> click.Command:
    """The command that is typed as `path`, its examples at the end of its help."""
    if not command.epilog and (shown := _examples().get(path)):
        command.epilog = "\b\nExamples:\n" + "\n".join(f"  {line}" for line in shown)
    return command


@cache
def _examples() -> dict[str, list[str]]:
    """Examples by the words of their command, one or two."""
    out: dict[str, list[str]] = {}
    for line in EXAMPLES.read_text(encoding="utf-8").splitlines():
        words = re.sub(r"^troubleshoot (--casebook \S+ )?", "", line).split()
        for path in (words[0], " ".join(words[:2])):
            out.setdefault(path, []).append(line)
    return out
