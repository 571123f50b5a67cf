"""Answers outside a case: kept as they come, and given again where the questions ended."""

import os

import pytest

from tests.talk.scripted import Killed, Recorder, Script
from troubleshoot.casebook.drafts import Draft
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError
from troubleshoot.talk import run_questions
from troubleshoot.talk.draft import Drafted
from troubleshoot.talk.machine_questions import ask_profile
from troubleshoot.talk.reading_questions import ask_points
from troubleshoot.upkeep.run import Run

RUN = {
    "Time from starting": ["no number", "6 min"], "Base pressure": "0.05 mbar",
    "Pressure while": "0.1", "Current while": "", "How long": "60 s", "Which metal": "gold",
    "The test slip?": "good", "Care that was done": ["seals"],
}  # fmt: skip


def a_run(asker, teller, rules):
    run = Run("2026-01-05T09:00:00", "run")
    return run_questions.ask(run, Machine(), asker, teller, rules)


def points(asker, teller, rules):
    return ask_points(asker, teller, "mbar")


def profile(asker, teller, rules):
    return ask_profile(asker, teller, {})


SCRIPTS = {
    "run": (a_run, RUN | {"Care that was done": [["seals"]]}),
    "readings": (points, {"Reading": ["0 s 1000", "30 s 2", "x", "1 min 0.9", "undo", "60 s 0.8",
                                      "120 s 0.4", ""]}),
    "machine": (profile, {"What is this coater called?": "ours", "Tell more": "/skip",
                          "Which of these are there?": [["turbo"]], "did not mark": "no",
                          "(such as": "", "?": "/skip"}),
}  # fmt: skip


@pytest.mark.parametrize("name", SCRIPTS)
def test_wherever_it_is_killed_it_goes_on_to_the_same_end(name, rules):
    ask, answers = SCRIPTS[name]
    whole = Script(answers)
    wanted = ask(whole, Recorder(), rules)
    for at in range(1, len(whole.asked)):
        draft, first = Draft(name), Script(answers, kill_at=at)
        with pytest.raises(Killed):
            ask(Drafted(first, Recorder(), draft), Recorder(), rules)
        assert len(draft.answers()) == at
        rest = first.answers
        second = Script(rest | {"Go on with them?": "yes"})
        assert ask(Drafted(second, Recorder(), draft), Recorder(), rules) == wanted
        assert second.asked[1:] == whole.asked[at:]
        draft.clear()


def test_who_begins_anew_is_asked_everything(rules):
    draft = Draft("run")
    draft.add("Time from starting the pump until you could coat? (such as 6 min)", "9 min")
    script = Script(RUN | {"Go on with them?": "no", "Care that was done": [["seals"]]})
    found = a_run(Drafted(script, Recorder(), draft), Recorder(), rules)
    assert found.values["time"] == 360
    assert "9 min" not in [answer for _, answer in draft.answers()]


def test_answers_to_questions_that_are_asked_no_more_are_left(rules):
    """A newer version may ask otherwise: what follows the first other question is asked."""
    draft = Draft("run")
    draft.add("Which planet?", "Mars")
    script = Script(RUN | {"Go on with them?": "yes", "Care that was done": [["seals"]]})
    assert a_run(Drafted(script, Recorder(), draft), Recorder(), rules).metal == "gold"


def test_a_line_that_was_cut_off_spoils_no_other():
    draft = Draft("run")
    draft.add("one", "1")
    with draft.path.open("a") as file:
        file.write('\n{"question": "tw')
    draft.add("three", ["3"])
    assert draft.answers() == [("one", "1"), ("three", ["3"])]


def test_an_answer_may_hold_any_letter_and_what_is_no_answer_is_passed_over():
    """Also those that some take for the end of a line (Unicode 16, section 5.8)."""
    draft = Draft("run")
    draft.add("one", "a\u2028b\x85c")
    with draft.path.open("a") as file:
        file.write('\n{"question": "two", "answer": 5}\n{"question": "three", "answer": [1]}')
    draft.add("four", ["4"])
    assert draft.answers() == [("one", "a\u2028b\x85c"), ("four", ["4"])]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of POSIX")
def test_a_pipe_in_its_place_is_not_waited_for():
    draft = Draft("run")
    draft.path.parent.mkdir(parents=True)
    os.mkfifo(draft.path)
    assert draft.answers() == []
    with pytest.raises(UserError, match="is a device or a pipe"):
        draft.add("one", "1")
