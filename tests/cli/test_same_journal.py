"""The terminal and a program that answers without one write the same journal."""

import pytest
from prompt_toolkit.application import create_app_session
from prompt_toolkit.input import create_pipe_input
from prompt_toolkit.output import DummyOutput

from tests.cli.checkout import ROOT
from tests.talk.scripted import Recorder
from troubleshoot.case.casefile import read_case
from troubleshoot.case.diagnose import Bench
from troubleshoot.show.terminal import TerminalAsker
from troubleshoot.talk.conversation import Conversation

AT = "2026-03-02T09:00:00"
MOST = 12
DEMOS = sorted(p for p in (ROOT / "cases_demo").glob("*.yaml") if "complaint:" in p.read_text())


class Operator:
    """Takes the first answer there is, does what is asked, and stops after some questions."""

    def __init__(self):
        self.asked = 0

    def choose(self, question, choices, about=None):
        self.asked += 1
        values = [c.value for c in choices]
        if self.asked > MOST and "/stop" in values:
            return "/stop"
        return next(c.value for c in choices if not c.aside)

    def several(self, question, choices, about=None):
        return [next(c.value for c in choices if not c.aside)]

    def text(self, question, about=None):
        self.asked += 1
        return "stop" if self.asked > MOST else "unknown"

    path = text


class Keys(Operator):
    """The same through the keys of a terminal."""

    def __init__(self, send):
        super().__init__()
        self.send, self.terminal = send, TerminalAsker()

    def choose(self, question, choices, about=None):
        wanted = super().choose(question, choices, about)
        choice = next(c for c in choices if c.value == wanted)
        shown = [c.value for c in choices if bool(c.key) == bool(choice.key)]
        number = str(shown.index(wanted) + 1)
        enter = "\r" * (10 * int(number) <= len(shown))
        keys = number + enter
        if choice.typed:
            keys = f"{choice.typed}\r"
        elif choice.key and choice.key != "+":
            keys = choice.key
        elif choice.key:
            keys = f"+{keys}"
        self.send(keys)
        return self.terminal.choose(question, choices)

    def several(self, question, choices, about=None):
        self.send("1\r\r" if len(choices) >= 10 else "1\r")
        return self.terminal.several(question, choices)

    def text(self, question, about=None):
        self.send(super().text(question, about) + "\r")
        return self.terminal.text(question)


def journal_of(bench, case, operator):
    talk = Conversation(bench, operator, Recorder(), case.journal, lambda entry: None, lambda: AT)
    talk.run()
    return talk.journal


@pytest.mark.first_quick(1)
@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_keys_and_answers_write_the_same_journal(path, rules, monkeypatch):
    case = read_case(path, rules, AT)
    bench = Bench(rules, case.machine)
    operator = Operator()
    told = journal_of(bench, case, operator)
    with create_pipe_input() as pipe, create_app_session(input=pipe, output=DummyOutput()):
        typed = journal_of(bench, case, Keys(pipe.send_text))
    assert typed == told
    assert operator.asked or told[-1].kind == "closed"
