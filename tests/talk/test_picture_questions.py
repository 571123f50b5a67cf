"""A micrograph, or two of one field, taken into a case while it is led by questions."""

import pytest

from tests.talk.scripted import Recorder, Script
from tests.talk.test_reading_questions import asked
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.load import shipped as rules_folder
from troubleshoot.talk.picture_questions import ask_picture

DEMOS = rules_folder().parent / "cases_demo"
SLOW, FAST = (str(DEMOS / f"picture_{kind}_scan.png") for kind in ("slow", "fast"))


@pytest.fixture(scope="module")
def findings():
    return load().findings


def test_one_picture_becomes_soft_evidence(findings):
    answers = {"Is it one picture": "alone", "Which file?": [SLOW]}
    data = ask_picture(Script(answers), Recorder(), findings)
    assert (data.what, data.source) == ("micrograph", "picture_slow_scan.png")
    told = dict(zip(findings["picture_shows"].answers, data.findings["picture_shows"], strict=True))
    assert max(told, key=told.get) == "bands"
    assert "<image" in data.plot


def test_two_pictures_answer_what_differs(findings):
    """A name that leads nowhere is said, and both are asked for again."""
    answers = {
        "Is it one picture": "slow-fast",
        "A slow and a fast frame: the first file?": ["nowhere.png", SLOW],
        "A slow and a fast frame: the second file?": [FAST, FAST],
    }
    teller = Recorder()
    data = ask_picture(Script(answers), teller, findings)
    assert teller.heard("nowhere.png does not exist") == 1
    gone, same, _ = data.findings["tv_rate"]
    assert gone > 5 * same


def test_nothing_is_no_reading(findings):
    assert ask_picture(Script({"Is it one picture": "/none"}), Recorder(), findings) is None
    answers = {"Is it one picture": "alone", "Which file?": [""]}
    assert ask_picture(Script(answers), Recorder(), findings) is None


def test_it_is_offered_beside_logs(rules):
    """In a rule base that asks nothing of pictures the reading is kept all the same."""
    answers = {
        "What do you have?": "picture",
        "Is it one picture": "alone",
        "Which file?": [SLOW],
        "Is that what the picture shows?": "yes",
        "anything in the chamber": [],
        "pump open to the chamber": [],
        "describe what was logged": [],
    }
    data, teller = asked(rules, answers)
    assert data.what == "micrograph"
    assert teller.heard("The picture shows what charging does", "line")
