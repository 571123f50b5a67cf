"""What a terminal obeys: ECMA-48 control functions (C0, DEL, C1) and the marks of direction of the
Unicode Bidirectional Algorithm (UAX #9, revision 50, section 2)."""

import json
import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.errors import UserError
from troubleshoot.printable import LONGEST_QUOTE, one_line, sentence, visible

TURNS = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}


@given(st.text())
def test_nothing_that_a_terminal_obeys_is_left(text):
    for character in visible(text):
        assert character in "\t\n" or unicodedata.category(character) not in ("Cc", "Zl", "Zp")
        assert unicodedata.bidirectional(character) not in TURNS


@given(st.text(alphabet=st.characters(categories=("L", "N", "P", "S"))))
def test_letters_of_any_language_stay(text):
    assert visible(text) == text


@given(st.dictionaries(st.text(), st.text()))
def test_json_says_the_same_afterwards(data):
    written = json.dumps(data, ensure_ascii=False)
    assert json.loads(visible(written)) == data


@given(st.text(), st.integers(1, 80))
def test_a_line_is_one_line_and_no_longer_than_it_may_be(text, most):
    line = one_line(text, most)
    assert "\n" not in line
    assert len(line) <= most


def test_an_error_quotes_the_beginning_of_what_is_long():
    said = sentence(f"unknown key {'a b ' * 1000!r} in the person's file (did you mean 'x'?).")
    assert said.endswith("…' in the person's file (did you mean 'x'?).")
    assert len(said) < LONGEST_QUOTE + 80


def test_an_error_holds_no_escape_code():
    assert str(UserError("the name \x1b[2J is odd")) == "the name \\u001b[2J is odd"
