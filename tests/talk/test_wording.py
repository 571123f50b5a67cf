"""Own words matched to the phrases of the rule base."""

import pytest

from troubleshoot.talk.wording import complaints_like, findings_like


def test_a_phrase_that_people_say_finds_its_complaint(rules):
    for complaint in rules.complaints.values():
        for words in (complaint.name, *complaint.says):
            found = complaints_like(rules, words)
            assert found[0].id == complaint.id, words
            assert found[0].score == pytest.approx(100, abs=10)


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        ("IT TAKES FOR EVER!!", "slow"),
        ("it takez for ever", "slow"),
        ("the needle hardly moves today", "slow"),
        ("there is a rattling sound", "noisy"),
    ],
)
def test_case_stops_and_slips_of_the_pen_do_not_matter(small_rules, words, meant):
    assert complaints_like(small_rules, words)[0].id == meant


@pytest.mark.parametrize("words", ["", "   ", "?!", "xyzzy", "q"])
def test_what_means_nothing_matches_nothing(small_rules, words):
    assert complaints_like(small_rules, words) == []


def test_no_more_than_asked_for_and_best_first(rules):
    found = complaints_like(rules, "the pressure is too high and it pumps slowly", most=2)
    assert len(found) <= 2
    assert [m.score for m in found] == sorted((m.score for m in found), reverse=True)


def test_the_phrase_that_matched_is_told(small_rules):
    assert complaints_like(small_rules, "hardly moves")[0].phrase == "the needle hardly moves"


def test_findings_are_found_by_name_and_by_answer(small_rules):
    among = list(small_rules.findings)
    assert findings_like(small_rules, "the lamp", among)[0].id == "lamp"
    assert "seal" in [m.id for m in findings_like(small_rules, "it looks dusty", among)]


def test_only_the_findings_that_matter_are_offered(small_rules):
    assert findings_like(small_rules, "the lamp", ["seal", "knob"]) == []
