"""What is recorded so far can be looked at, and any line of it corrected."""

from tests.talk.scripted import STILL
from tests.talk.test_conversation import KNOB, talk

LAMP = "Is the lamp lit?"
LIST = "Is a line of it wrong?"


def number(t, kind):
    return str(next(e.number for e in t.journal if e.kind == kind))


def corrected(bench, kind, **answers):
    """A case in which the first entry of a kind is corrected at the second question."""
    first = talk(bench, {KNOB: "shut", LAMP: "/stop"})
    first.run()
    at = number(first, kind)
    asked = {LIST: [at], "What is right?": "/none", LAMP: ["/recorded", "/stop"], **answers}
    t = talk(bench, asked, journal=first.journal)
    t.run()
    return bench.assess(t.journal).known, t


def test_a_finding_is_answered_anew_and_the_first_answer_no_longer_counts(small_bench):
    known, _ = corrected(small_bench, "finding", **{"What is right?": "anew", KNOB: "open"})
    assert [s.answer for s in known.seen if s.finding == "knob"] == ["open"]


def test_a_finding_is_taken_back(small_bench):
    known, _ = corrected(small_bench, "finding", **{"What is right?": "out", KNOB: "/stop"})
    assert not any(s.finding == "knob" for s in known.seen)


def test_a_fact_is_changed(small_bench):
    known, _ = corrected(
        small_bench, "circumstance", **{"What is right?": "yes", "What was it?": "/skip"}
    )
    assert "yes" in known.circumstances.values()


def test_the_complaint_is_corrected_and_what_was_seen_stays(small_bench):
    known, _ = corrected(small_bench, "complaint", **{STILL: "noisy"})
    assert known.complaint == "noisy"
    assert known.seen
