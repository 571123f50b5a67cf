"""What the terminal is told, by rich: sentences, steps, cautions, bars, pictures."""

import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from hashlib import sha256

import click
from rich.console import Console
from rich.padding import Padding
from rich.panel import Panel
from rich.style import Style
from rich.table import Table
from rich.text import Text

from troubleshoot.advice.phrases import chance
from troubleshoot.errors import UserError
from troubleshoot.knowledge.kept import folder
from troubleshoot.printable import visible
from troubleshoot.show.files import to_file

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
        self.console.print(visible(text), style="bold", markup=False)

    def line(self, text: str) -> None:
        self._say(text)

    def small(self, text: str) -> None:
        self._say(text, "dim")

    def _say(self, text: str, style: str = "") -> None:
        """A sentence; what stands in front of it in spaces indents all its lines."""
        words = text.lstrip(" ")
        said, indent = Text(visible(words), style), len(text) - len(words)
        if words:
            self.console.print(Padding(said, (0, 0, 0, indent), expand=False) if indent else said)

    def steps(self, items: Sequence[str]) -> None:
        table = Table.grid(padding=(0, 1))
        for number, item in enumerate(items, start=1):
            table.add_row(f"  {number}.", plain(item))
        self.console.print(table)

    def caution(self, head: str, text: str, urgent: bool) -> None:
        if urgent:
            panel = Panel(plain(text), title=plain(head), title_align="left", border_style="red")
            self.console.print(panel, style="bold")
        else:
            self.console.print(f"[bold yellow]{plain(head)}.[/] {plain(text)}")

    def bars(self, rows: Sequence[tuple[str, float]]) -> None:
        block = "█" if self.console.encoding.startswith("utf") else "#"
        table = Table.grid(padding=(0, 1))
        for name, p in rows:
            table.add_row(f"  {block * round(20 * p):<20}", chance(p), plain(name))
        self.console.print(table)

    def pictures(self, of: str, shown: Sequence[tuple[str, str, str]]) -> None:
        from troubleshoot.show import graphics
        from troubleshoot.show.html.pages import picture_sheet

        if graphics.shows_pictures():
            drawn = graphics.sheet([(name, kept) for _, name, kept in shown])
            self.raw(f"{graphics.sixels(drawn)}\n")
            self.small("; ".join(f"{n} {words}" for n, (words, *_) in enumerate(shown, 1)))
        page = picture_sheet(of, shown)
        path = folder() / "pictures" / f"{sha256(page.encode()).hexdigest()[:12]}.html"
        try:
            if not path.exists():
                path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
                to_file(path, page)
        except (OSError, UserError):  # nowhere to write: the printed forms have them
            return
        link = Style(link=path.as_uri()) if self.console.is_terminal else Style()
        where = Text.assemble("Pictures of these answers: ", (str(path), link), style="dim")
        self.console.print(where, soft_wrap=True)

    def raw(self, text: str) -> None:
        """What was `captured`, as it is."""
        self.console.file.write(text)

    @contextmanager
    def captured(self) -> Iterator[Callable[[], str]]:
        """What is told in here is kept, and handed out afterwards by what this gives."""
        with self.console.capture() as capture:
            yield lambda: re.sub(r" +$", "", capture.get(), flags=re.MULTILINE)

    @contextmanager
    def paged(self) -> Iterator[None]:
        """What is told in here goes through the pager where it is more than the terminal holds."""
        with self.captured() as text:
            yield
        console = self.console
        fits = len(text().splitlines()) < console.height
        if fits or not console.is_terminal or console.is_dumb_terminal:
            self.raw(text())
        else:
            # None: click asks the pager whether it shows colours.
            click.echo_via_pager(text(), color=None if console.color_system else False)


def plain(text: str) -> str:
    """Text in which rich finds no markup and a terminal nothing to obey."""
    from rich.markup import escape

    return escape(visible(text))
