import pytest

from tests.benchmarks.rules_named import PAGE, named, warnings

TEXT = """# Tables

## With rules

Rule base 0123456789ab. On a Monday.

| a |
|---|

## Without

No rule base.

| b |
|---|

## Words alone

None.
"""


def test_every_section_with_a_table_says_which_rules():
    assert named(TEXT) == {"With rules": "0123456789ab", "Without": None}


def test_other_rules_are_warned_of_and_the_same_are_not():
    (line,) = warnings(TEXT, "ba9876543210")
    assert "'With rules'" in line
    assert "0123456789ab" in line
    assert warnings(TEXT, "0123456789ab") == []


def test_a_table_that_says_nothing_of_its_rules_is_refused():
    with pytest.raises(ValueError, match="Without"):
        named(TEXT.replace("No rule base.", ""))


def test_the_page_says_it_of_every_table():
    told = named(PAGE.read_text(encoding="utf-8"))
    assert "Bench trials" in told
    assert {rules is None for rules in told.values()} == {True, False}
