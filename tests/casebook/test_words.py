"""Every word of a case is found, on both engines alike."""

import pytest

from troubleshoot.case.journal import Entry
from troubleshoot.casebook.store import Store
from troubleshoot.casebook.wanted import Wanted
from troubleshoot.coater.machine import Machine
from troubleshoot.errors import UserError

AT = "2026-01-05T09:00:00"


def note(number, text="so"):
    return Entry(number, AT, "note", {"text": text})


def test_words_are_found_whatever_their_accents_and_order(named):
    book = Store(named)
    for name, text in (("Größe", "Flocken am UNTEREN Dichtring"), ("two", "flakes on the seal")):
        book.save(book.new_case(name, AT, Machine()), note(0, text))

    def found(words):
        return [c.id for c in book.cases(Wanted(words=words))]

    assert found("große") == found("unter flock") == [1]
    assert found("seal FLAK") == [2]
    assert found("flakes Dichtring") == []
    assert found("'; -- \"") == [2, 1]  # no word in it: nothing is asked
    assert book.count(Wanted(words="flakes")) == 1


def test_a_better_match_comes_first(named):
    book = Store(named)
    texts = ["oil " + "and other things " * 30, "oil oil oil", "argon"]
    for text in texts:
        book.save(book.new_case("x", AT, Machine()), note(0, text))
    assert [c.id for c in book.cases(Wanted(words="oil"))] == [2, 1]


def test_what_is_taken_back_is_not_found(named):
    book = Store(named)
    case = book.new_case("x", AT, Machine())
    book.save(case, note(0, "flakes"))
    book.save(case, Entry(1, AT, "retract", {"entry": 0}))
    assert book.cases(Wanted(words="flakes")) == []


def test_a_deleted_case_is_gone_with_its_words(named):
    book = Store(named)
    for text in ("flakes", "flakes too"):
        book.save(book.new_case("x", AT, Machine()), note(0, text))
    book.delete(1)
    assert [c.id for c in book.cases(Wanted(words="flakes"))] == [2]
    for use in (book.journal, lambda case: book.save(case, note(1))):
        with pytest.raises(UserError, match="no case 1"):
            use(1)
    assert [c.entries for c in book.cases()] == [1]
