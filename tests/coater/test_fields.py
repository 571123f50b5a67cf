"""The rows of a machine profile are whole, and what rules name of a machine is one of them."""

from collections import Counter

import pytest

from troubleshoot import units
from troubleshoot.coater.fields import FACTS, FIELDS, NUMBERS, ROWS
from troubleshoot.coater.machine import DERIVED
from troubleshoot.coater.plausible import queries
from troubleshoot.coater.profile import machine_from, typed_value


def test_every_key_and_every_label_stands_once():
    for named in (Counter(row.key for row in ROWS), Counter(row.label for row in ROWS)):
        assert set(named.values()) == {1}


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.key)
def test_every_key_has_a_label_and_a_question(row):
    assert row.label
    assert row.ask.endswith("?") == (row.part != "equipment")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.key)
def test_a_question_waits_only_for_what_is_asked_before(row):
    before = list(FIELDS)[: list(FIELDS).index(row.key)]
    for key, wanted in row.needs.items():
        assert key in before
        assert wanted is None or wanted in FACTS[key].choices


@pytest.mark.parametrize("fact", FACTS.values(), ids=lambda fact: fact.key)
def test_a_fact_is_one_of_several_and_its_default_one_of_them(fact):
    assert len(fact.choices) > 1
    assert all(fact.choices.values())
    assert fact.default in ("", *fact.choices)
    if fact.part == "equipment":
        assert list(fact.choices) == ["yes", "no"]


@pytest.mark.parametrize("number", NUMBERS.values(), ids=lambda number: number.key)
def test_a_number_says_where_it_is_found(number):
    assert number.where


def test_every_default_and_example_is_ordinary():
    examples = {number.key: number.example for number in NUMBERS.values()}
    defaults = {row.key: row.default for row in ROWS if row.default}
    for data in (examples, defaults):
        kept = {key: typed_value(key, text, "mbar") for key, text in data.items()}
        assert queries(machine_from(kept, "here")) == ()


@pytest.mark.parametrize("number", NUMBERS.values(), ids=lambda number: number.key)
def test_a_number_that_is_no_pressure_of_the_gauge_has_a_unit_of_its_own(number):
    if number.unit:
        assert units.parse(f"1 {number.unit}", number.dimension).si > 0
    else:
        assert number.dimension in ("pressure", "pressure rate")


def test_what_the_rules_name_of_a_machine_is_a_row(rules):
    """Facts filter; numbers scale bands, and have the dimension of the finding that they scale."""
    filtered = [*rules.findings.values(), *rules.causes.values(), *rules.actions.values()]
    filtered += rules.care.values()
    facts = {key for entry in filtered for key in entry.machine}
    facts |= {c.name for d in rules.derivations.values() for c in d.when if c.kind == "machine"}
    assert facts <= set(FACTS)
    assert facts, "no rule filters by any fact of the machine"
    scaled = [f.quantity for f in rules.findings.values() if f.quantity]
    used = {(q.usual, q.dimension) for q in scaled if q.usual and q.usual not in DERIVED}
    assert used
    assert used <= {(n.key, n.dimension) for n in NUMBERS.values()}
