"""Questions on a terminal: whole words, nothing cut."""

import pytest

from troubleshoot.show.teller import WIDTH
from troubleshoot.show.terminal import ROOM, folded

LONG = "Does a turning-stage keep turning, evenly, with this load on it, through the whole run?"


@pytest.mark.parametrize("columns", [40, 80, 200])
def test_a_line_is_broken_between_words_only(monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = folded(LONG).split("\n")
    assert " ".join(line.strip() for line in lines).strip() == LONG
    assert all(len(line) < columns for line in lines)


@pytest.mark.parametrize("columns", [60, 80])
def test_what_is_typed_has_room_behind_its_question_or_a_line_of_its_own(monkeypatch, columns):
    """No number is torn from its unit by the edge of the screen."""
    monkeypatch.setenv("COLUMNS", str(columns))
    for length in range(1, 3 * columns):
        last = folded("a" * (length % 7 + 1) + " b" * length).split("\n")[-1]
        assert len(last) + ROOM <= columns, last


def test_a_path_is_typed_on_a_line_of_its_own(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert folded("Which file?", room=WIDTH).split("\n")[-1].strip() == ""
