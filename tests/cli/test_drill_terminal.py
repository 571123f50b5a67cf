"""A drill through a real terminal, from its story to what is said afterwards."""

import sys

import pytest
from click.testing import CliRunner

from tests.cli.test_pty import Terminal, pexpect, pyte  # noqa: F401 (skips where they are missing)
from troubleshoot.__main__ import cli
from troubleshoot.casebook.drills import kept
from troubleshoot.casebook.store import Store
from troubleshoot.errors import UserError

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")
SEED = 26  # of a gas ballast that was left open


@pytest.mark.slow
def test_a_drill_is_played_start_to_end_and_its_progress_kept(tmp_path):
    pictures = tmp_path / "pictures"
    t = Terminal(
        tmp_path, "drill", "--level", 1, "--seed", SEED, "--pictures", pictures, rows=70
    ).wait_for("And now?")
    assert "Working pressure not reached" in t.screen
    t.choose("Look at something").wait_for("What do you look at?")
    t.choose("Timed pump-down").wait_for("And now?")
    assert "The last decades of the pump-down" in t.screen
    assert "^" in t.screen  # the needle
    t.choose("Look at something").wait_for("What do you look at?")
    t.choose("Look at every knob").wait_for("And now?")
    assert "Gas ballast knob: Open" in t.screen
    t.choose("Do something").wait_for("What do you do?")
    t.choose("Close the gas ballast").wait_for("And now?")
    assert "The complaint is gone" in t.screen
    t.choose("Say what it is").wait_for("What is it?")
    t.choose("Gas ballast left open").wait_for("Is there a second one?")
    t.choose("That is all")
    assert t.end() == 0
    for said in ("Right.", "The planner, on the same coater", "What told most", "Remember"):
        assert said in t.screen
    (one,) = kept(Store(), "student")
    assert (one.level, one.seed, one.right) == (1, SEED, True)
    assert Store().cases() == []
    assert [p.suffix for p in pictures.iterdir()] == [".svg"]


@pytest.mark.slow
def test_a_drill_that_is_left_keeps_nothing(tmp_path):
    t = Terminal(tmp_path, "drill", "--level", 1, "--seed", SEED).wait_for("And now?")
    t.choose("Stop the drill")
    assert t.end() == 0
    assert kept(Store(), "student") == []


@pytest.mark.parametrize(
    ("options", "why"),
    [
        (["--exam", "--level", "2"], "leave --level"),
        (["--from-case", "1", "--level", "2"], "leave --level out"),
        (["--sheet", "x.pdf"], "add --exam"),
        ([], "no terminal to ask at"),
    ],
)
def test_what_does_not_go_together_is_said_in_a_sentence(options, why):
    done = CliRunner().invoke(cli, ["drill", *options])
    assert isinstance(done.exception, UserError)
    assert why in str(done.exception)
