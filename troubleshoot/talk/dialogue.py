"""How the conversation asks and tells: two small protocols, so that a test can answer from a list.

A terminal, a test or anything else that can put a question implements `Asker` and `Teller`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

MORE = "+"
"""The key behind which asides stand that have none of their own."""


@dataclass(frozen=True)
class Choice:
    """One thing that can be chosen.

    `aside` marks what is not an answer (why, back, stop ...); with a `key` it does not stand in the
    list: that key takes it, at any question, or `MORE` shows it. `words` are others that people use
    for it. `in_full`: taken where what was typed fits nothing, which is then asked for in full.
    `typed` is a word that has to be typed to say it, where a slip would be dangerous.
    """

    value: str
    label: str
    aside: bool = False
    key: str = ""
    words: tuple[str, ...] = ()
    typed: str = ""
    in_full: bool = False


@dataclass(frozen=True)
class About:
    """What a question is about, for whoever answers without reading it.

    `kind`: opening, stop, finding, action (is it done?), wait (park it?), complaint_now (after a
    remedy), circumstances, service, normal, gone, outcome, proof, aside; `id`: of the finding,
    action, caution or opening question, empty where there is only one of its kind.
    """

    kind: str
    id: str = ""


ASIDE = About("aside")
NONE = Choice("/none", "None of these")


class Asker(Protocol):
    """Puts one question and waits for the answer."""

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        """One of `choices`, by its value."""

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        """Those of `choices` that hold, by their values; at least one, as Enter alone says nothing.

        So a list of which nothing may hold has a choice that says so, such as `NONE`.
        """

    def text(self, question: str, about: About = ASIDE) -> str:
        """A line of text; empty when nothing was typed."""

    def path(self, question: str) -> str:
        """As `text`, for the name of a file."""


class Teller(Protocol):
    """Shows something and does not wait."""

    def title(self, text: str) -> None:
        """The head of a new step."""

    def line(self, text: str) -> None:
        """A plain sentence."""

    def small(self, text: str) -> None:
        """A remark that may be skipped."""

    def steps(self, items: Sequence[str]) -> None:
        """Numbered steps."""

    def caution(self, head: str, text: str, urgent: bool) -> None:
        """A caution under its head; an urgent one stands in a box and cannot be overlooked."""

    def bars(self, rows: Sequence[tuple[str, float]]) -> None:
        """Names with their probabilities."""

    def pictures(self, of: str, shown: Sequence[tuple[str, str, str]]) -> None:
        """Pictures of answers: each answer's words, file name, and what the rules keep of it."""
