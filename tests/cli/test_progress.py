"""Long work says how far it is at a terminal, and nothing into a pipe."""

import sys

from troubleshoot.cli import progress as module
from troubleshoot.cli.progress import progress


def test_a_pipe_gets_nothing(capsys):
    with progress("Lines") as told:
        told(1, 2)
    assert capsys.readouterr().err == ""


def test_a_terminal_gets_one_line_with_the_time_left_that_goes_away(capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)
    clock = iter([0.0, 1.0, 1.1, 4.0])
    monkeypatch.setattr(module.time, "monotonic", lambda: next(clock))
    with progress("Lines") as told:
        told(10, 40)
        told(11, 40)  # too soon after the last
        told(20, 40)
    said = capsys.readouterr().err
    assert [part for part in said.split("\r\x1b[K") if part] == [
        "Lines: 10 of 40, about 3 s left (Ctrl-C stops)",
        "Lines: 20 of 40, about 4 s left (Ctrl-C stops)",
    ]
    assert said.endswith("\r\x1b[K")
