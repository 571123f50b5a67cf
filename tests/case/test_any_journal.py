"""What holds for every journal that can be written, drawn at random."""

import json
from dataclasses import replace

import pytest
from hypothesis import Phase, given, reject, settings
from hypothesis import strategies as st

from tests import strategies
from tests.case.records import from_records
from troubleshoot.advice.page import page_of
from troubleshoot.case.diagnose import Bench, Diagnosis
from troubleshoot.case.entries import Complaint, Retract
from troubleshoot.case.journal import as_records, check_all, enter, standing
from troubleshoot.case.known import Known, replay
from troubleshoot.errors import UserError
from troubleshoot.show.html import pages
from troubleshoot.show.json import as_object

LATER = "2026-03-02T10:00:00"


def drawn(data, rules, most=12):
    return data.draw(strategies.journals(rules, most)), data.draw(strategies.machines())


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_it_comes_back_from_what_is_kept_of_it(small_rules, data):
    journal, machine = drawn(data, small_rules)
    kept = from_records(json.loads(json.dumps(as_records(journal))))
    check_all(kept, small_rules)
    assert kept == journal
    assert replay(kept, small_rules, machine) == replay(journal, small_rules, machine)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_once_all_is_taken_back_nothing_is_known(small_rules, data):
    journal, machine = drawn(data, small_rules)
    for entry in standing(journal):
        journal = enter(journal, LATER, Retract(entry=entry.number), small_rules)
    assert replay(journal, small_rules, machine) == Known()


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_what_is_said_and_taken_back_changes_nothing(small_rules, data):
    journal, machine = drawn(data, small_rules)
    said = data.draw(strategies.sayings(small_rules))
    before = replay(journal, small_rules, machine)
    try:
        after = enter(journal, LATER, said, small_rules)
    except UserError:
        reject()
    gone = enter(after, LATER, Retract(entry=after[-1].number), small_rules)
    assert replay(gone, small_rules, machine) == before


@settings(max_examples=25, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(data=st.data())
def test_every_case_has_a_page_that_shows_and_offers_only_what_is_permitted(small_rules, data):
    journal, machine = drawn(data, small_rules)
    case = Bench(small_rules, machine).assess(journal)
    page = page_of(case, journal)
    if isinstance(case, Diagnosis):
        total = case.belief.nothing_wrong + case.belief.unlisted
        assert 0 <= total <= 1 + 1e-9
        assert all(case.may(option.action) for option in case.plan.options)
    json.dumps(as_object(page), allow_nan=False)
    assert "</html>" in pages.render(page, made_at=LATER)


@pytest.mark.slow
@settings(max_examples=25, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(data=st.data())
def test_the_shipped_rules_stand_any_journal(rules, data):
    journal, machine = drawn(data, rules, most=8)
    try:
        case = Bench(rules, machine).assess(journal)
    except UserError:  # a monitor that is odd, where there is none
        reject()
    json.dumps(as_object(page_of(case, journal)), allow_nan=False)


def test_a_complaint_that_is_named_again_takes_the_place_of_the_first(small_rules):
    first, second = (replace(Complaint(complaint=c), words="so") for c in small_rules.complaints)
    journal = enter(enter((), LATER, first, small_rules), LATER, second, small_rules)
    known = replay(journal, small_rules, strategies.machine_from({}, "drawn"))
    assert known.complaint == second.complaint
