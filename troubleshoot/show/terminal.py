"""The conversation on a real terminal: rich tells, questionary and prompt_toolkit ask."""

import re
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from hashlib import sha256

import click
import questionary
from prompt_toolkit.application import Application, get_app
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from prompt_toolkit.layout import FormattedTextControl, Layout, Window
from prompt_toolkit.styles import Style as ListStyle
from prompt_toolkit.utils import is_dumb_terminal
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
from troubleshoot.show import picking
from troubleshoot.show.files import to_file
from troubleshoot.show.picking import ENTER, Picker, Taken
from troubleshoot.talk.dialogue import ASIDE, About, Choice
from troubleshoot.talk.talk import SAY_IT

STYLE = ListStyle.from_dict(
    {"qmark": "bold", "question": "bold", "pointed": "bold underline", "answer": "",
     "typed": "bold", "said": "bold", "foot": ""}
)  # fmt: skip
WIDTH = 96
NAMES: dict[Keys | str, str] = {
    Keys.Up: picking.UP, Keys.Down: picking.DOWN, Keys.PageUp: picking.PAGE_UP,
    Keys.PageDown: picking.PAGE_DOWN, Keys.Home: picking.HOME, Keys.End: picking.END,
    Keys.ControlM: ENTER, Keys.ControlJ: ENTER, Keys.ControlH: picking.BACKSPACE,
    Keys.Escape: picking.ESCAPE,
}  # fmt: skip


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
            table.add_row(f"  {number}.", _plain(item))
        self.console.print(table)

    def caution(self, head: str, text: str, urgent: bool) -> None:
        if urgent:
            panel = Panel(_plain(text), title=_plain(head), title_align="left", border_style="red")
            self.console.print(panel, style="bold")
        else:
            self.console.print(f"[bold yellow]{_plain(head)}.[/] {_plain(text)}")

    def bars(self, rows: Sequence[tuple[str, float]]) -> None:
        block = "█" if self.console.encoding.startswith("utf") else "#"
        table = Table.grid(padding=(0, 1))
        for name, p in rows:
            table.add_row(f"  {block * round(20 * p):<20}", chance(p), _plain(name))
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


def _plain(text: str) -> str:
    from rich.markup import escape

    return escape(visible(text))


def folded(text: str) -> str:
    """A question broken between words: questionary breaks its lines anywhere."""
    width = shutil.get_terminal_size().columns - 3
    return "\n  ".join(textwrap.wrap(text, max(width, 20), break_on_hyphens=False))


class TerminalAsker:
    """Asks at the terminal: lists by `picking`, text by questionary.

    Where the terminal cannot move its cursor the same lists are answered by a line.
    """

    def __init__(self) -> None:
        self._typed = ""  # words that fitted no answer: the text of the question that follows

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        own = next((c for c in choices if c.value in SAY_IT), None)
        taken = self._pick(question, Picker(tuple(choices), unmatched=own))
        self._typed = taken.typed
        return taken.choices[0].value

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        return [c.value for c in self._pick(question, Picker(tuple(choices), several=True)).choices]

    def text(self, question: str, about: About = ASIDE) -> str:
        _forget_typed_ahead()
        typed, self._typed = self._typed, ""
        asked = questionary.text(
            folded(question), typed, style=STYLE, qmark="?", key_bindings=_no_escape()
        )
        return str(asked.unsafe_ask())

    def path(self, question: str) -> str:
        return str(questionary.path(folded(question), style=STYLE, qmark="?").unsafe_ask())

    def _pick(self, question: str, picker: Picker) -> Taken:
        _forget_typed_ahead()
        taken = _by_line(question, picker) if is_dumb_terminal() else _by_key(question, picker)
        said = taken.typed or "; ".join(c.label for c in taken.choices)
        Console(highlight=False).print(f"[bold]? {_plain(question)}[/]  {_plain(said)}")
        return taken


def _forget_typed_ahead() -> None:
    """Keys that were pressed before a question stood there do not answer it."""
    try:
        import termios

        termios.tcflush(sys.stdin, termios.TCIFLUSH)
    except (ImportError, OSError, ValueError):  # no such terminal
        pass


def _no_escape() -> KeyBindings:
    """Esc does nothing: with the key after it it would stand for a command of an editor."""
    bindings = KeyBindings()

    @bindings.add(Keys.Escape, eager=True)
    def _(event: KeyPressEvent) -> None:
        pass

    return bindings


def _by_key(question: str, picker: Picker) -> Taken:
    """Key by key; what is shown is gone once something is taken."""
    state = [picker]

    def rows() -> StyleAndTextTuples:
        size = get_app().output.get_size()
        shown = state[0].rows(question, min(size.columns, WIDTH), size.rows - 1)
        return [(f"class:{style}", f"{text}\n") for style, text in shown]

    bindings = KeyBindings()

    @bindings.add(Keys.Any)
    def _(event: KeyPressEvent) -> None:
        pressed = event.key_sequence[0]
        name = NAMES.get(pressed.key, pressed.data)
        for key in name if pressed.key == Keys.BracketedPaste else (name,):
            after = state[0].press(key)
            if isinstance(after, Taken):
                event.app.exit(result=after)
                return
            state[0] = after

    @bindings.add(Keys.ControlC)
    @bindings.add(Keys.SIGINT)
    def _(event: KeyPressEvent) -> None:
        event.app.exit(exception=KeyboardInterrupt, style="class:aborting")

    @bindings.add(Keys.ControlD)
    def _(event: KeyPressEvent) -> None:
        event.app.exit(exception=EOFError, style="class:aborting")

    window = Window(FormattedTextControl(rows), always_hide_cursor=True, dont_extend_height=True)
    app: Application[Taken] = Application(
        Layout(window), key_bindings=bindings, style=STYLE, erase_when_done=True
    )
    app.ttimeoutlen = 0.05  # a lone Esc is told from an arrow key after this
    return app.run()


def _by_line(question: str, picker: Picker) -> Taken:
    """The list printed whole, and a line of keys typed below it."""
    while True:
        for _, row in picker.rows(question, WIDTH, 10**6):
            print(visible(row))
        line = input("> ")
        if line:  # an empty one takes what the line before pointed at
            picker = replace(picker, typed="", number="", at=None)
        for key in (*line, ENTER):
            after = picker.press(key)
            if isinstance(after, Taken):
                return after
            picker = after
        if picker.said:
            print(f"  {visible(picker.said)}")
