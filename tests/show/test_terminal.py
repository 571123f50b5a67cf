"""Questions on a terminal: whole words, nothing cut."""

import pytest

from troubleshoot.show.terminal import folded

LONG = "Does a turning-stage keep turning, evenly, with this load on it, through the whole run?"


@pytest.mark.parametrize("columns", [40, 80, 200])
def test_a_line_is_broken_between_words_only(monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    lines = folded(LONG).split("\n")
    assert " ".join(line.strip() for line in lines) == LONG
    assert all(len(line) < columns for line in lines)
