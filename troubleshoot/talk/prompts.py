"""The conversation as a pure function, for a front end that cannot wait inside it.

`ask` takes a journal and the answers that are not in it yet, and gives the journal as it is then
and the next prompt: plain values, with everything that a front end needs to put the question. A
case always resumes at the question at which its journal ends, so nothing else has to be kept
between two calls; answers that were given since the last entry (an aside, "fairly sure", own words)
are handed in again until an entry is made of them.
"""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import Entry, Journal
from troubleshoot.coater.machine import Machine
from troubleshoot.talk.conversation import Conversation
from troubleshoot.talk.dialogue import ASIDE, About, Choice

Kind = Literal["choose", "several", "text", "path"]


@dataclass(frozen=True)
class Told:
    """Something to show before a question. `what`: title, line, small, steps, caution, bars,
    pictures."""

    what: str
    values: tuple[Any, ...]


@dataclass(frozen=True)
class Prompt:
    """One question: what to show before it, how to put it, and what it is about."""

    kind: Kind
    question: str
    choices: tuple[Choice, ...]
    about: About
    told: tuple[Told, ...] = ()

    def as_record(self) -> dict[str, Any]:
        """As plain values that can be written down as JSON."""
        return asdict(self)


@dataclass(frozen=True)
class Answer:
    """What was said to a prompt, and when."""

    value: str | Sequence[str]
    at: str


@dataclass(frozen=True)
class Turn:
    """Where the talk stands: its journal, the answers not in it yet, and a prompt or the end."""

    journal: Journal
    pending: tuple[Answer, ...]
    prompt: Prompt | None
    ended: str | None = None
    told: tuple[Told, ...] = ()


def ask(
    bench: Bench,
    journal: Journal,
    pending: Sequence[Answer] = (),
    *,
    at: str,
    ask_machine: Callable[["Front"], Machine] | None = None,
) -> Turn:
    """The next prompt after `journal` and the answers in `pending`; `at` is the present time.

    `ask_machine` asks for the machine's normal on the same front, where it is not known.
    """
    front = Front(pending, at)
    asks = None if ask_machine is None else lambda: ask_machine(front)
    talk = Conversation(bench, front, front, journal, front.entered, front.now, asks)
    try:
        ended = talk.run()
    except _Open as open_:
        return Turn(talk.journal, front.pending, open_.prompt)
    return Turn(talk.journal, (), None, ended, tuple(front.told))


class _Open(Exception):
    """A question that no answer was given to yet."""

    def __init__(self, prompt: Prompt) -> None:
        super().__init__(prompt.question)
        self.prompt = prompt


@dataclass
class Front:
    """Answers from a list, and stops at the first question that is not in it."""

    answers: Sequence[Answer]
    at: str
    used: int = 0
    kept: int = 0
    told: list[Told] = field(default_factory=list)

    @property
    def pending(self) -> tuple[Answer, ...]:
        """The answers of which no entry was made yet."""
        return tuple(self.answers[self.kept : self.used])

    def entered(self, entry: Entry) -> None:
        """An entry was made of the answers so far."""
        self.kept = self.used

    def now(self) -> str:
        """The time of the answer that is being taken."""
        return self.answers[self.used - 1].at if self.used else self.at

    def _next(
        self, kind: Kind, question: str, choices: Sequence[Choice] = (), about: About = ASIDE
    ) -> Any:
        if self.used == len(self.answers):
            raise _Open(Prompt(kind, question, tuple(choices), about, tuple(self.told)))
        self.used += 1
        self.told.clear()  # what was shown before the question that is answered now
        return self.answers[self.used - 1].value

    def choose(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> str:
        """One of `choices`, by its value."""
        return str(self._next("choose", question, choices, about))

    def several(self, question: str, choices: Sequence[Choice], about: About = ASIDE) -> list[str]:
        """Any number of `choices`, by their values."""
        return list(self._next("several", question, choices, about))

    def text(self, question: str, about: About = ASIDE) -> str:
        """A line of text."""
        return str(self._next("text", question, (), about))

    def path(self, question: str) -> str:
        """The name of a file."""
        return str(self._next("path", question))

    def title(self, text: str) -> None:
        """The head of a new step."""
        self.told.append(Told("title", (text,)))

    def line(self, text: str) -> None:
        """A plain sentence."""
        self.told.append(Told("line", (text,)))

    def small(self, text: str) -> None:
        """A remark that may be skipped."""
        self.told.append(Told("small", (text,)))

    def steps(self, items: Sequence[str]) -> None:
        """Numbered steps."""
        self.told.append(Told("steps", tuple(items)))

    def caution(self, name: str, text: str, urgent: bool) -> None:
        """A caution in a box."""
        self.told.append(Told("caution", (name, text, urgent)))

    def bars(self, rows: Sequence[tuple[str, float]]) -> None:
        """Names with their probabilities."""
        self.told.append(Told("bars", tuple(rows)))

    def pictures(self, of: str, shown: Sequence[tuple[str, str, str]]) -> None:
        """Pictures of answers."""
        self.told.append(Told("pictures", (of, *shown)))
