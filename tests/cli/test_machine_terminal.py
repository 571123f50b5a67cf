"""`machine new` on a real terminal."""

import sys

import pytest

pytest.importorskip("pexpect")
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")

from tests.cli.test_pty import Terminal  # noqa: E402
from troubleshoot.casebook.store import Store  # noqa: E402
from troubleshoot.coater.profile import machine_from  # noqa: E402


@pytest.mark.slow
def test_stopping_half_way_keeps_the_answers_and_goes_on_with_them(tmp_path):
    t = Terminal(tmp_path, "machine", "new").wait_for("What is this coater called?")
    t.keys("ours\r").wait_for("Is there a valve")
    t.child.sendintr()
    assert t.end() == 130
    assert "`troubleshoot machine new` goes on with them" in t.screen
    assert Store().machines() == []
    again = Terminal(tmp_path, "machine", "new").wait_for("One answer is kept")
    again.keys("1").wait_for("Is there a valve")
    assert "What is this coater called?  ours" in again.screen
    again.child.sendintr()
    assert again.end() == 130


@pytest.mark.slow
def test_a_kept_coater_is_shown_and_left_as_it_is(tmp_path):
    old = machine_from({"name": "ours", "volume": "5 L"}, "here")
    Store().save_machine(old)
    t = Terminal(tmp_path, "machine", "new").wait_for("What is this coater called?")
    t.keys("ours\r").wait_for("What now?").choose("Leave it")
    assert t.end() == 0
    assert "Chamber volume: 5 L [volume]" in t.screen
    assert "ours stays as it is" in t.screen
    assert Store().machines() == [old]


def test_a_number_that_is_odd_is_kept_only_when_asked(tmp_path):
    old = machine_from({"name": "ours", "volume": "3 L"}, "here")
    Store().save_machine(old)
    t = Terminal(tmp_path, "machine", "set", "pump_speed", "200 L/s").wait_for("all the same?")
    t.keys("n\r")
    assert t.end() == 0
    assert Store().machines() == [old]
