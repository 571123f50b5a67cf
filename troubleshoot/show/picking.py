"""Choosing from a list by keys, as a pure function: a state and a key give a state or a choice.

Nothing is taken that was not chosen: no answer is marked at first, Enter takes only what was
pointed at, and a key that means nothing does nothing and says so. Letters narrow the list down to
what holds the typed words; digits take an answer by its number as long as nothing is typed; asides
have keys of their own, none of them a letter or a digit.
"""

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from troubleshoot.talk.dialogue import MORE, Choice
from troubleshoot.talk.vocabulary import words_of

UP, DOWN, PAGE_UP, PAGE_DOWN, HOME, END = "up", "down", "pageup", "pagedown", "home", "end"
ENTER, BACKSPACE, ESCAPE, SPACE = "enter", "backspace", "escape", " "
PAGE = 5
IN_VIEW = 3
"""So many asides stand in the foot line; the others are behind `MORE`."""

Row = tuple[str, str]
"""A style (question, answer, pointed, typed, said or foot) and a line of text."""


@dataclass(frozen=True)
class Taken:
    """What was chosen, and the words that were typed if they fitted nothing."""

    choices: tuple[Choice, ...]
    typed: str = ""


@dataclass(frozen=True)
class Picker:
    """A list in which one thing is chosen, or `several` are marked.

    `at` is the place in what is visible that is pointed at. `unmatched` is taken by Enter where the
    typed words fit nothing: a way to say them in full.
    """

    choices: tuple[Choice, ...]
    several: bool = False
    unmatched: Choice | None = None
    typed: str = ""
    number: str = ""
    at: int | None = None
    marked: frozenset[str] = frozenset()
    more: bool = False
    said: str = ""
    asides: dict[str, Choice] = field(init=False, compare=False)

    def __post_init__(self) -> None:
        keyed = {c.key: c for c in self.choices if c.key and c.key != MORE}
        object.__setattr__(self, "asides", keyed)

    @property
    def visible(self) -> tuple[Choice, ...]:
        """What can be taken now: the list, or all that holds the typed words."""
        if self.typed:
            return tuple(c for c in self.choices if _holds(c, self.typed))
        return tuple(c for c in self.choices if bool(c.key) == self.more)

    def press(self, key: str) -> "Picker | Taken":
        """What one key makes of it."""
        state = replace(self, said="")
        if key in self.asides:
            return Taken((self.asides[key],))
        if key == MORE and any(c.key for c in self.choices):
            return replace(state, more=not self.more, typed="", number="", at=None)
        if key in MOVES:
            return state._move(key)
        if key == ENTER:
            return state._enter()
        if key == BACKSPACE:
            return replace(state, typed=self.typed[:-1], number="", at=None)
        if key == ESCAPE:
            return state._escape()
        if len(key) != 1 or not key.isprintable():
            return replace(state, said="That key does nothing here.")
        if not self.typed and key.isdigit():
            return state._digit(key)
        if not self.typed and key == SPACE:
            return state._space()
        return replace(state, typed=self.typed + key, number="", at=None)

    def _move(self, key: str) -> "Picker":
        last = len(self.visible) - 1
        if last < 0:
            return self
        here = -1 if self.at is None else self.at
        to = {
            UP: here - 1 if self.at is not None else last,
            DOWN: here + 1,
            PAGE_UP: max(here - PAGE, 0),
            PAGE_DOWN: min(here + PAGE, last),
            HOME: 0,
            END: last,
        }[key]
        return replace(self, at=min(max(to, 0), last), number="")

    def _digit(self, key: str) -> "Picker | Taken":
        number, count = self.number + key, len(self.visible)
        if not 1 <= int(number) <= count:
            return replace(self, number="", said=f"There is no answer {number}.")
        state = replace(self, at=int(number) - 1)
        if 10 * int(number) <= count:  # it may be the first digit of a longer number
            return replace(state, number=number, said="Enter takes it, or type the next digit.")
        return replace(state, number="")._toggle() if self.several else state._take()

    def _space(self) -> "Picker | Taken":
        if self.several and self.at is not None:
            return self._toggle()
        return replace(self, said="Type the number of an answer, or some letters of it.")

    def _toggle(self) -> "Picker | Taken":
        assert self.at is not None
        choice = self.visible[self.at]
        if choice.key:
            return Taken((choice,))
        marked = self.marked ^ {choice.value}
        return replace(self, marked=marked, typed="", at=None if self.typed else self.at)

    def _enter(self) -> "Picker | Taken":
        typed = next((c for c in self.choices if c.typed and c.typed == self.typed.strip()), None)
        if typed is not None:
            return Taken((typed,))
        if self.at is not None and (not self.several or self.typed or self.number):
            return self._toggle() if self.several else self._take()
        if self.several and self.marked and not self.typed and not self.more:
            return Taken(tuple(c for c in self.choices if c.value in self.marked))
        if self.typed and len(self.visible) == 1:
            only = replace(self, at=0, said="Enter takes it.")
            marks = self.several and not self.visible[0].key
            return replace(only, said="")._toggle() if marks else only
        if self.typed and not self.visible and self.unmatched is not None:
            return Taken((self.unmatched,), self.typed)
        if self.several:
            return replace(self, said="Mark what holds by its number, then press Enter.")
        if self.typed:
            more = "More than one fits: type more, or move to it."
            return replace(self, said=more if self.visible else "Esc clears what was typed.")
        return replace(self, said="Nothing is chosen yet: type its number, or move to it.")

    def _take(self) -> "Picker | Taken":
        assert self.at is not None
        choice = self.visible[self.at]
        if choice.typed:
            return replace(self, number="", said=f"To say that, type the word: {choice.typed}")
        return Taken((choice,))

    def _escape(self) -> "Picker":
        if self.typed or self.number:
            return replace(self, typed="", number="", at=None)
        if self.more:
            return replace(self, more=False, at=None)
        return replace(self, at=None, said="Esc does nothing here.")

    def rows(self, question: str, width: int, height: int) -> list[Row]:
        """The screen: the question, as much of the list as fits, what was typed, the asides."""
        head = [("question", row) for row in _wrap("? ", question, width)]
        tail: list[Row] = []
        if self.typed:
            left = len(self.visible)
            fits = f"{left} fit" if left > 1 else "one fits" if left else "nothing fits"
            tail += [("typed", f"  Typed: {self.typed} ({fits}; Esc clears)")]
            if not left and self.unmatched is not None:
                tail += [("said", "  Enter: say it in these words.")]
        if self.said:
            tail += [("said", row) for row in _wrap("  ", self.said, width)]
        tail += [("foot", row) for row in _wrap("  ", self._foot(), width)]
        return [*head, *self._list(width, max(height - len(head) - len(tail), 3)), *tail]

    def _list(self, width: int, height: int) -> list[Row]:
        blocks = [self._block(place, choice, width) for place, choice in enumerate(self.visible)]
        first = 0
        room = height - 2  # a line above and one below say that there is more
        if sum(map(len, blocks)) > height and self.at is not None:
            while first < self.at and sum(len(b) for b in blocks[first : self.at + 1]) > room:
                first += 1
        rows: list[Row] = []
        last = first
        whole = sum(map(len, blocks)) <= height
        while last < len(blocks) and (whole or len(rows) + len(blocks[last]) <= max(room, 1)):
            rows += blocks[last]
            last += 1
        above, below = first, len(blocks) - last
        if above:
            rows.insert(0, ("foot", f"    ({above} more above)"))
        if below:
            rows.append(("foot", f"    ({below} more below)"))
        return rows

    def _block(self, place: int, choice: Choice, width: int) -> list[Row]:
        style = "pointed" if place == self.at else "answer"
        pointer = ">" if place == self.at else " "
        box = ("[x] " if choice.value in self.marked else "[ ] ") if self.several else ""
        number = "" if self.typed else str(place + 1)
        key = f"{choice.key} " if choice.key not in ("", MORE) else ""
        return [
            (style, row) for row in _wrap(f"{pointer} {number:>2} {box}{key}", choice.label, width)
        ]

    def _foot(self) -> str:
        keyed = list(self.asides.values())[:IN_VIEW]
        said = [f"{c.key} {c.label}" for c in keyed]
        if any(c.key for c in self.choices):
            said.append(f"{MORE} {'back to the answers' if self.more else 'more'}")
        how = "numbers mark, Enter goes on" if self.several else "its number, or letters of it"
        if self.typed:  # a digit would be a letter more of what is typed
            how = "more letters of it, or the arrow keys, then Enter"
        firsts = [str(n) for n in range(1, 10) if 10 * n <= len(self.visible)]
        if firsts and not self.typed:  # what is typed so far may be the head of a longer number
            how += f"; {' and '.join(firsts)} need{'s' * (len(firsts) == 1)} Enter"
        return "   ".join([*said, f"({how})"])


MOVES = {UP, DOWN, PAGE_UP, PAGE_DOWN, HOME, END}


def _holds(choice: Choice, typed: str) -> bool:
    """Whether every typed word begins a word of the choice, or of what people call it."""
    if choice.typed and choice.typed.startswith(typed.strip()):
        return True
    there = words_of(" ".join((choice.label, *choice.words)))
    return all(any(word.startswith(part) for word in there) for part in _parts(typed))


def broken(text: str, width: int) -> list[str]:
    """The lines of a text: broken between words, and a path that is longer than a line between its
    folders, so that no name in it is torn unless it is itself longer than a line."""
    words = []
    for word in text.split():
        pieces = re.findall(r"[^/\\]*[/\\]?", word) if len(word) > width else [word]
        line = ""
        for piece in pieces:
            if line and len(line) + len(piece) > width:
                words.append(line)
                line = ""
            line += piece
        words.append(line)
    return textwrap.wrap(" ".join(words), width, break_on_hyphens=False)


def _parts(typed: str) -> Sequence[str]:
    """The typed words; a single letter counts too."""
    return [w for part in typed.split() for w in (words_of(part) or [part.lower()])]


def _wrap(head: str, text: str, width: int) -> list[str]:
    """The text after `head`, broken at words, with what follows set under its first word."""
    rows = broken(text, max(width - len(head) - 1, 20)) or [""]
    return [(head if n == 0 else " " * len(head)) + row for n, row in enumerate(rows)]
