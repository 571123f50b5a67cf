"""What the operator says in own words, in the conversation: offered, chosen, kept."""

from tests.talk.scripted import OPENING, Talk
from troubleshoot.case.diagnose import Bench
from troubleshoot.coater.machine import Machine

KNOB = "How is the vent knob?"
SMELL = "there is a smell of burning"


def test_words_that_match_no_complaint_are_kept_as_a_note(small_bench):
    t = Talk(
        small_bench,
        OPENING
        | {"What is the trouble?": ["/own", "slow"], "in your own words": "xyzzy", KNOB: "/stop"},
    )
    t.run()
    assert t.entries("note") == [{"text": "xyzzy"}]
    assert t.entries("complaint") == [{"complaint": "slow"}]


def test_a_danger_sign_told_instead_of_a_complaint_is_marked_and_dealt_with_first(small_bench):
    t = Talk(
        small_bench,
        OPENING
        | {"What is the trouble?": ["/own", "slow"], "in your own words": SMELL,
           "Did you mean": "sign:smell", "person in charge told?": "/stop"},
    )  # fmt: skip
    assert t.run() == "stopped"
    assert t.entries("sign") == [{"sign": "smell", "present": True}]
    assert t.entries("note") == [{"text": SMELL}]
    assert t.entries("complaint") == []


def test_a_danger_sign_told_as_something_else_is_marked(small_bench):
    t = Talk(
        small_bench,
        OPENING
        | {KNOB: "/other", "What did you see?": SMELL, "Which of these is it?": "sign:smell",
           "person in charge told?": "/stop"},
    )  # fmt: skip
    assert t.run() == "stopped"
    assert t.entries("sign") == [{"sign": "smell", "present": True}]


def test_the_answer_that_is_meant_is_offered_first_and_the_words_are_kept(small_bench):
    t = Talk(
        small_bench,
        OPENING
        | {KNOB: ["/other", "/stop"], "What did you see?": "the seal is torn",
           "Which of these is it?": "seal", "How does the seal look?": "torn"},
    )  # fmt: skip
    t.run()
    offered = t.asker.offered[t.asker.asked.index("How does the seal look?")]
    assert offered[:3] == ["torn", "clean", "dusty"]
    assert t.entries("note") == [{"text": "the seal is torn"}]
    assert t.entries("finding") == [{"finding": "seal", "answer": "torn"}]


def test_none_of_these_is_always_offered(rules):
    t = Talk(
        Bench(rules, Machine()),
        OPENING
        | {"What is the trouble?": ["/own", "no_strike"], "in your own words": "its gone all pink",
           "Did you mean": "/none", "Is there": "/stop", "?": "/stop"},
    )  # fmt: skip
    t.run()
    for question, values in zip(t.asker.asked, t.asker.offered, strict=True):
        if "Did you mean" in question:
            assert "/none" in values
    assert {"text": "its gone all pink"} in t.entries("note")


def test_what_is_likely_comes_with_how_earlier_cases_ended(small_bench):
    t = Talk(small_bench, OPENING | {KNOB: ["/so_far", "/stop"]})
    t.conversation.earlier = lambda journal: f"Three are like it, after {len(journal)} entries."
    t.run()
    assert t.teller.heard("Three are like it, after ", "line") == 1
