"""An asker that answers from a script and a teller that writes down what it was told."""

from datetime import datetime, timedelta

from troubleshoot.case.journal import append
from troubleshoot.talk.conversation import Conversation
from troubleshoot.talk.dialogue import NONE

STILL = "Is it still this"
"""The question whether it is another trouble after all: a script that names it not says no."""


class Killed(Exception):
    """The program is ended from outside while a question stands."""


class Script:
    """Answers by a fragment of the question; a question that is not in the script fails the test.

    A list is used up one answer at a time; anything else is the answer each time. `kill_at` is the
    number (from 0) of the question at which `Killed` is raised. `asked` holds every question.
    """

    def __init__(self, answers, kill_at=None):
        self.answers = {k: list(v) if isinstance(v, list) else v for k, v in answers.items()}
        self.kill_at = kill_at
        self.asked = []
        self.offered = []

    def _next(self, question, choices=None):
        self.asked.append(question)
        self.offered.append(None if choices is None else [c.value for c in choices])
        if self.kill_at == len(self.asked) - 1:
            raise Killed
        assert len(self.asked) < 400, f"it never ends: {self.asked[-6:]}"
        found = [k for k in self.answers if k in question and self.answers[k] != []]
        assert found, f"a question that the script does not know: {question!r}"
        answer = self.answers[max(found, key=len)]
        return answer.pop(0) if isinstance(answer, list) else answer

    def choose(self, question, choices, about=None):
        values = [c.value for c in choices]
        if STILL in question and not any(STILL in k for k in self.answers):
            return values[0]
        assert len(set(values)) == len(values), f"two choices with one value: {question!r} {values}"
        answer = self._next(question, choices)
        assert answer in values, f"{question!r} does not offer {answer!r} but {values}"
        return answer

    def several(self, question, choices, about=None):
        answer, values = list(self._next(question, choices)), {c.value for c in choices}
        assert set(answer) <= values
        assert NONE.value in values, f"nobody can say that none holds: {question!r}"
        return answer

    def text(self, question, about=None):
        return self._next(question)

    path = text

    @property
    def left(self):
        """Listed answers that were never asked for."""
        return {k: v for k, v in self.answers.items() if isinstance(v, list) and v}


class Recorder:
    """Keeps everything it is told as (what, text)."""

    def __init__(self):
        self.told = []

    def title(self, text):
        self.told.append(("title", text))

    def line(self, text):
        self.told.append(("line", text))

    def small(self, text):
        self.told.append(("small", text))

    def steps(self, items):
        self.told += [("step", item) for item in items]

    def caution(self, head, text, urgent):
        self.told.append(("urgent" if urgent else "caution", f"{head}. {text}"))

    def bars(self, rows):
        self.told += [("bar", name) for name, p in rows]
        assert all(0 <= p <= 1 for _, p in rows)

    def pictures(self, of, shown):
        self.told += [("picture", f"{words}: {name}") for words, name, _ in shown]

    def heard(self, fragment, what=None):
        """How often `fragment` was told."""
        return sum(fragment in text and what in (None, kind) for kind, text in self.told)


class Talk:
    """A conversation: scripted asker, recording teller, a list as store, a clock of its own."""

    def __init__(self, bench, answers, journal=None, kill_at=None, ask_machine=None):
        self.asker, self.teller = Script(answers, kill_at), Recorder()
        self.clock = datetime(2026, 1, 5, 9, 0)
        if journal is None:
            journal = append(
                (), self.now(), "opened", bench.rules, rules=bench.rules.hash, machine="none"
            )
        self.saved = list(journal)
        self.conversation = Conversation(
            bench, self.asker, self.teller, tuple(journal), self.save, self.now, ask_machine
        )

    def now(self):
        self.clock += timedelta(seconds=30)
        return self.clock.isoformat(timespec="seconds")

    def save(self, entry):
        assert entry.number == len(self.saved)
        self.saved.append(entry)

    def run(self):
        return self.conversation.run()

    @property
    def journal(self):
        return self.conversation.journal

    def kinds(self):
        return [e.kind for e in self.journal]

    def entries(self, kind):
        return [dict(e.data) for e in self.journal if e.kind == kind]


OPENING = {
    "danger sign": "none",
    "What is the trouble?": "slow",
    "What state is the coater in": "pumped",
    "cannot be replaced": "no",
    "Who is asking?": "student",
    "Since when?": "/skip",
    "Which of these hold?": (),
    "do any of these hold?": (),
}
