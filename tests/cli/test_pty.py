"""The questions through a real terminal: keys in, screen out, nothing lost by an interruption."""

import json
import os
import re
import sys
import time
from pathlib import Path

import pytest

from tests.cli.checkout import ROOT
from troubleshoot.advice.verdict import commonest_first
from troubleshoot.casebook.attachments import content_of
from troubleshoot.casebook.store import Store
from troubleshoot.coater.machine import Machine

pexpect = pytest.importorskip("pexpect")
pyte = pytest.importorskip("pyte")
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")

ESCAPES = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z]|\x1b[=>]")
QUIET, LONGEST = 0.4, 40


class Terminal:
    """The program in a pseudo-terminal, and what stands on its screen."""

    def __init__(self, folder, *args, rows=60, columns=110, **env):
        # Some runners export the size of a window of theirs, which goes before this one's.
        ours = {
            name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES")
        }
        self.child = pexpect.spawn(
            sys.executable, ["-m", "troubleshoot", *map(str, args)], cwd=str(folder),
            env={**ours, "PYTHONPATH": str(ROOT), "TERM": "xterm", "PYTHONUTF8": "1",
                 "PROMPT_TOOLKIT_NO_CPR": "1", **env},
            dimensions=(rows, columns), encoding="utf-8", timeout=LONGEST,
        )  # fmt: skip
        self.screen = ""
        self.shown = pyte.Screen(columns, rows)
        self._stream = pyte.Stream(self.shown)

    def wait_for(self, text):
        """Read until `text` stands on the screen, and then until the program waits."""
        at = len(self.screen)
        return self._until(lambda: text in self.screen[at:], text)

    def wait_for_another(self, question):
        """Read until another question stands last on the screen."""
        return self._until(lambda: self.question != question, f"question after {question}")

    def _until(self, there, what):
        end = time.monotonic() + LONGEST
        while not there():
            assert time.monotonic() < end, f"no {what!r} in: {self.screen[-1500:]}"
            self._read(0.2)
        while self._read(QUIET):
            pass
        return self

    def _read(self, timeout):
        try:
            new = self.child.read_nonblocking(65536, timeout=timeout)
        except (pexpect.TIMEOUT, pexpect.EOF):
            return False
        self.screen += ESCAPES.sub("", new)
        self._stream.feed(new)
        return bool(new)

    def keys(self, text):
        self.child.send(text)
        return self

    def choose(self, answer):
        """Take the answer that begins so, by its number on the screen."""
        label = rf"^[> ] +(\d+) (?:\[.\] )?{re.escape(answer)}"
        (number,) = re.findall(label, self.now, flags=re.M)
        last = max(map(int, re.findall(r"^[> ] +(\d+) ", self.now, flags=re.M)))
        return self.keys(number + "\r" * (10 * int(number) <= last or "[ ]" in self.now))

    @property
    def now(self):
        """The lines that stand on the screen."""
        return "\n".join(line.rstrip() for line in self.shown.display)

    @property
    def question(self):
        """The question that stands last on the screen."""
        return re.findall(r"^\? (.+?)[\r\n]", f"? \n{self.screen}\n", flags=re.M)[-1].strip()

    def end(self):
        """Read to the end; the exit status."""
        self.child.expect(pexpect.EOF)
        self.screen += ESCAPES.sub("", self.child.before)
        self.child.close()
        return self.child.exitstatus


def opening(tmp_path):
    """From the first question to the first check."""
    t = Terminal(tmp_path, "diagnose").wait_for("danger sign")
    t.choose("None of these").wait_for("What is the trouble?")
    t.keys("2\r").wait_for("is not known yet")
    t.choose("Skip").wait_for("What state is the coater in now?")
    t.keys("1").wait_for("cannot be replaced")
    t.choose("No").wait_for("Who is asking?")
    t.keys("1").wait_for("Since when?")
    return t.choose("Skip").wait_for("Which of these hold?")


def checks(tmp_path):
    """To the first check."""
    return opening(tmp_path).choose("Not sure").wait_for("min hands-on")


@pytest.mark.slow
def test_ctrl_c_loses_nothing_and_resume_asks_the_same(tmp_path, rules):
    t = checks(tmp_path)
    first = t.question
    second = t.keys("unknown\r").wait_for_another(first).question
    t.child.sendintr()
    assert t.end() == 130
    assert "Nothing is lost" in t.screen
    assert "Traceback" not in t.screen
    journal = Store().journal(1)
    kept = [e.kind for e in journal]
    assert kept[:3] == ["opened", "opening", "complaint"]
    complaint = journal[2].data["complaint"]
    assert complaint == commonest_first(rules, Machine())[1].id
    assert kept.count("finding") == 1
    again = Terminal(tmp_path, "diagnose", "--resume").wait_for("min hands-on")
    assert f"Going on with: {rules.complaints[complaint].name.lower()}." in again.screen
    assert again.question == second
    again.child.sendintr()
    assert again.end() == 130
    assert Store().journal(1) == journal


@pytest.mark.slow
def test_ctrl_c_in_the_opening_goes_on_with_the_opening(tmp_path):
    t = opening(tmp_path)
    t.child.sendintr()
    assert t.end() == 130
    again = Terminal(tmp_path, "diagnose", "--resume").wait_for("Which of these hold?")
    assert "Who is asking?" not in again.screen
    again.child.sendintr()
    assert again.end() == 130


@pytest.mark.slow
def test_the_end_of_the_input_is_an_interruption_too(tmp_path):
    t = Terminal(tmp_path, "diagnose").wait_for("danger sign")
    t.choose("None of these").wait_for("What is the trouble?")
    t.keys("2\r").wait_for("is not known yet").choose("Yes").wait_for("coater called?")
    t.child.sendeof()
    assert t.end() == 130
    assert "fault of the program" not in t.screen


@pytest.mark.slow
def test_a_wait_is_parked_shown_at_the_next_start_and_gone_on_with(tmp_path, rules):
    t = Terminal(tmp_path, "diagnose", "copepod_on_a_wet_sponge").wait_for("This waits about")
    t.choose("Start it and park")
    assert t.end() == 0
    assert "Parked until" in t.screen
    (case,) = Store().cases()
    assert case.status == "parked"
    action = rules.actions[case.parked_on]
    start = Terminal(tmp_path, "diagnose").wait_for("danger sign")
    start.choose("None of these").wait_for("What is the trouble?")
    assert f"Parked: case 1, {action.name}" in " ".join(start.screen.split())
    assert "--resume --case 1" in " ".join(start.screen.split())
    start.child.sendintr()
    assert start.end() == 130
    again = Terminal(tmp_path, "diagnose", "--resume", "--case", 1).wait_for("Tell me when")
    assert action.say[:40] in again.screen
    again.child.sendintr()
    again.end()
    assert [case.status for case in Store().cases()] == ["open", "parked"]


def test_a_cured_case_is_closed_with_two_questions(tmp_path):
    t = Terminal(tmp_path, "diagnose", "cured_and_closed").wait_for("What was it?")
    t.keys("1").wait_for("How do you know?").choose("All was as")
    assert t.end() == 0
    assert "goes on as a case of its own here: case 1" in t.screen
    assert "closed and kept" in t.screen
    assert "troubleshoot cases report 1 report.html" in t.screen
    (case,) = Store().cases()
    assert (case.status, case.outcome, case.cause) == ("closed", "cured", "gas_ballast_open")


RISE = ("0 s 0.3 mbar", "60 s 2.9 mbar", "a slip", "120 s 5.5", "180 s 8.1", "240 s 10.7",
        "300 s 13.3")  # fmt: skip


def type_readings(terminal):
    """Seven lines, one of them a slip, and the empty line that ends them."""
    number = 1
    for line in RISE:
        terminal.keys(f"{line}\r")
        number += line != "a slip"
        terminal.wait_for(f"Reading {number}:")
    return terminal.keys("\r")


@pytest.mark.slow
def test_readings_typed_at_the_prompt_of_a_case_are_kept_with_it(tmp_path):
    t = checks(tmp_path)
    t.keys("+\r").wait_for("A number after all").choose("I have a log")
    t.wait_for("What do you have?").choose("Times and pressures").wait_for("in the chamber during")
    t.choose("No,").wait_for("pump open to the chamber").choose("No:").wait_for("Reading 1:")
    type_readings(t).wait_for("describe what was logged")
    assert "rises in a straight line" in " ".join(t.screen.split())
    t.choose("Yes").wait_for_another(t.question)
    (reading,) = [e for e in Store().journal(1) if e.kind == "reading"]
    assert reading.data["numbers"]["rise_in_one_minute"][0] == pytest.approx(260 / 60, rel=0.02)
    t.child.sendintr()
    assert t.end() == 130


@pytest.mark.slow
def test_a_log_that_is_read_into_a_case_is_kept_with_it(tmp_path):
    log = Path("cases_demo/log_rise_straight.csv").resolve()
    t = checks(tmp_path)
    t.keys("+\r").wait_for("A number after all").choose("I have a log")
    t.wait_for("What do you have?").choose("A log in a file").wait_for("in the chamber during")
    t.choose("No,").wait_for("Which file?").keys(f"{log}\r").wait_for("describe what was logged")
    t.choose("Yes").wait_for_another(t.question)
    kept = Store()
    read, file = [e for e in kept.journal(1) if e.kind in ("reading", "file")]
    assert (file.data["name"], file.data["sha256"]) == (log.name, read.data["sha256"])
    assert content_of(kept, read.data["sha256"]) == log.read_bytes()
    t.child.sendintr()
    assert t.end() == 130


@pytest.mark.slow
def test_numbers_typed_at_the_prompt_of_read_are_told(tmp_path):
    t = Terminal(tmp_path, "read", "--typed").wait_for("pump open to the chamber")
    t.choose("No:").wait_for("Reading 1:")
    type_readings(t)
    assert t.end() == 0
    assert "rises in a straight line" in " ".join(t.screen.split())
    assert "Rise in the first minute" in t.screen


def test_an_error_is_broken_between_words(tmp_path):
    t = Terminal(tmp_path, "read", "a/long/way/down/to/a/log/of/the/pressure.csv", columns=60)
    assert t.end() == 2
    said = t.screen.replace("\r", "").strip().split("\n")
    assert len(said) > 1
    assert all(len(line) < 60 for line in said)


def test_a_case_says_which_closed_cases_it_reckons_with_and_keeps_them(tmp_path, run):
    ended = run("cases", "add", "--complaint", "slow_pump_down", "--cause", "gas_ballast_open",
                "--proved-by", "fault seen")  # fmt: skip
    assert ended.status == 0, ended.err
    t = Terminal(tmp_path, "diagnose", "cured_and_closed").wait_for("What was it?")
    assert "and one closed case of this lab" in " ".join(t.screen.split())
    t.child.sendintr()
    t.end()
    (book,) = [e for e in Store().journal(2) if e.kind == "book"]
    assert book.data["cases"] == 1
    found = json.loads(run("diagnose", "--resume", "--case", 2, "--json").out)
    assert found["book"] == {"hash": book.data["hash"], "cases": 1}


@pytest.mark.slow
def test_a_case_is_deleted_when_it_was_asked_for_twice(tmp_path, run):
    for _ in range(2):
        run("cases", "add", "--complaint", "slow_pump_down", "--cause", "gas_ballast_open")
    t = Terminal(tmp_path, "cases", "delete", 1).wait_for("better corrected")
    t.keys("y\r").wait_for("Type 1 to delete it").keys("2\r")
    t.end()
    assert "Nothing is deleted" in t.screen
    assert len(Store().cases()) == 2
    t = Terminal(tmp_path, "cases", "delete", 1).wait_for("better corrected")
    t.keys("y\r").wait_for("Type 1 to delete it").keys("1\r")
    assert t.end() == 0
    assert [c.id for c in Store().cases()] == [2]


@pytest.mark.parametrize(
    ("rows", "env", "paged"),
    [(24, {}, True), (200, {}, False), (24, {"TERM": "dumb"}, False)],
    ids=["small", "tall", "dumb"],
)
def test_what_is_longer_than_the_terminal_goes_through_the_pager(tmp_path, rows, env, paged):
    pager = tmp_path / "pager"
    pager.write_text("#!/bin/sh\nsed 's/^/P:/'\n")
    pager.chmod(0o755)
    args = ("explain", "seal_dirty")
    shown = Terminal(tmp_path, *args, rows=rows, columns=80, PAGER=str(pager), **env)
    shown._until(lambda: not shown.child.isalive(), "end")
    assert ("P:" in shown.screen) is paged
    assert "Source: " in shown.screen
