"""Questions at a real terminal: prompt_toolkit and questionary ask; `show.teller` tells."""

import shutil
import sys
from collections.abc import Sequence
from dataclasses import replace

from prompt_toolkit.application import Application, get_app
from prompt_toolkit.formatted_text import StyleAndTextTuples
from prompt_toolkit.key_binding import KeyBindings, KeyPressEvent
from prompt_toolkit.keys import Keys
from prompt_toolkit.layout import FormattedTextControl, Layout, Window
from prompt_toolkit.styles import Style as ListStyle
from prompt_toolkit.utils import is_dumb_terminal
from rich.console import Console

from troubleshoot.printable import visible
from troubleshoot.show import picking
from troubleshoot.show.picking import ENTER, Picker, Taken
from troubleshoot.show.teller import WIDTH, plain
from troubleshoot.talk.dialogue import ASIDE, About, Choice

STYLE = ListStyle.from_dict(
    {"qmark": "bold", "question": "bold", "pointed": "bold underline", "answer": "",
     "typed": "bold", "said": "bold", "foot": ""}
)  # fmt: skip
NAMES: dict[Keys | str, str] = {
    Keys.Up: picking.UP, Keys.Down: picking.DOWN, Keys.PageUp: picking.PAGE_UP,
    Keys.PageDown: picking.PAGE_DOWN, Keys.Home: picking.HOME, Keys.End: picking.END,
    Keys.ControlM: ENTER, Keys.ControlJ: ENTER, Keys.ControlH: picking.BACKSPACE,
    Keys.Escape: picking.ESCAPE,
}  # fmt: skip


ROOM = 24
"""Letters for which there is room behind a question: a number with its unit, a few words."""


def folded(text: str, room: int = ROOM) -> str:
    """A question broken between words: questionary breaks its lines anywhere.

    Where its last line leaves no `room` for what is typed, that gets a line of its own: a path
    always, so that it stands in one piece.
    """
    width = max(shutil.get_terminal_size().columns - 3, 20)
    lines = picking.broken(text, width)
    crowded = lines and len(lines[-1]) + room > width
    return "\n  ".join([*lines, *([" "] if crowded else [])])


class TerminalAsker:
    """Asks at the terminal: lists by `picking`, text by questionary.

    Where the terminal cannot move its cursor the same lists are answered by a line.
    """

    def __init__(self) -> None:
        self._typed = ""  # words that fitted no answer: the text of the question that follows

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        own = next((c for c in choices if c.in_full), None)
        taken = self._pick(question, Picker(tuple(choices), unmatched=own))
        self._typed = taken.typed
        return taken.choices[0].value

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        return [c.value for c in self._pick(question, Picker(tuple(choices), several=True)).choices]

    def text(self, question: str, about: About = ASIDE) -> str:
        import questionary

        _forget_typed_ahead()
        typed, self._typed = self._typed, ""
        asked = questionary.text(
            folded(question), typed, style=STYLE, qmark="?", key_bindings=_no_escape()
        )
        return str(asked.unsafe_ask())

    def path(self, question: str) -> str:
        import questionary

        return str(
            questionary.path(folded(question, room=WIDTH), style=STYLE, qmark="?").unsafe_ask()
        )

    def _pick(self, question: str, picker: Picker) -> Taken:
        _forget_typed_ahead()
        taken = _by_line(question, picker) if is_dumb_terminal() else _by_key(question, picker)
        said = taken.typed or "; ".join(c.label for c in taken.choices)
        Console(highlight=False).print(f"[bold]? {plain(question)}[/]  {plain(said)}")
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
