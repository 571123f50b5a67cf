"""The conversation on a real terminal: rich tells, questionary asks."""

from collections.abc import Sequence

import questionary
from prompt_toolkit.styles import Style
from rich.console import Console
from rich.panel import Panel
from rich.table import Table

from troubleshoot.talk.dialogue import ASIDE, About, Choice

STYLE = Style.from_dict(
    {"qmark": "bold", "question": "bold", "pointer": "bold", "highlighted": "bold underline",
     "answer": "bold", "instruction": "", "separator": ""}
)  # fmt: skip
WIDTH = 96


class TerminalTeller:
    """Shows things with rich."""

    def __init__(self, console: Console | None = None) -> None:
        self.console = console or Console(highlight=False)
        if self.console.width > WIDTH:
            self.console.width = WIDTH

    def title(self, text: str) -> None:
        self.console.print()
        self.console.rule(style="dim")
        self.console.print(text, style="bold", markup=False)

    def line(self, text: str) -> None:
        self.console.print(text, markup=False)

    def small(self, text: str) -> None:
        self.console.print(text, style="dim", markup=False)

    def steps(self, items: Sequence[str]) -> None:
        table = Table.grid(padding=(0, 1))
        for number, item in enumerate(items, start=1):
            table.add_row(f"  {number}.", _plain(item))
        self.console.print(table)

    def caution(self, name: str, text: str, urgent: bool) -> None:
        self.console.print(
            Panel(
                _plain(text),
                title=_plain(f"STOP NOW: {name}" if urgent else f"Caution: {name}"),
                title_align="left",
                border_style="bold red" if urgent else "yellow",
            )
        )

    def bars(self, rows: Sequence[tuple[str, float]]) -> None:
        table = Table.grid(padding=(0, 1))
        for name, p in rows:
            table.add_row(f"  {'█' * round(20 * p):<20}", f"{round(100 * p):>3} %", _plain(name))
        self.console.print(table)


def _plain(text: str) -> str:
    from rich.markup import escape

    return escape(text)


class TerminalAsker:
    """Asks with questionary: arrow keys and enter, or the key shown before an answer."""

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        shown: list[questionary.Choice | questionary.Separator] = []
        aside = False
        for choice in choices:
            if choice.aside and not aside:
                aside = True
                shown.append(questionary.Separator("  ─────"))
            shown.append(questionary.Choice(choice.label, value=choice.value))
        answer = questionary.select(
            question,
            choices=shown,
            style=STYLE,
            qmark="?",
            use_shortcuts=len(choices) <= 36,
            use_jk_keys=False,
            instruction=" ",
        ).unsafe_ask()
        return str(answer)

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        answer = questionary.checkbox(
            question,
            choices=[questionary.Choice(c.label, value=c.value) for c in choices],
            style=STYLE,
            qmark="?",
            use_jk_keys=False,
            instruction="(space marks, enter goes on)",
        ).unsafe_ask()
        return [str(a) for a in answer]

    def text(self, question: str, about: About = ASIDE) -> str:
        return str(questionary.text(question, style=STYLE, qmark="?").unsafe_ask())

    def path(self, question: str) -> str:
        return str(questionary.path(question, style=STYLE, qmark="?").unsafe_ask())
