"""`--help` and the first question stand at once because nothing heavy is imported for them."""

import os
import subprocess
import sys
import time

import pytest

from tests.cli.checkout import ROOT
from troubleshoot.cli import first

HEAVY = {
    "numpy", "scipy", "matplotlib", "sqlalchemy", "pydantic", "rich", "questionary", "jinja2",
    "yaml", "durable", "rapidfuzz", "platformdirs",
}  # fmt: skip


def loaded(*args):
    """The packages that a command imports."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "troubleshoot", *args],
        capture_output=True, text=True, timeout=60, cwd=ROOT, check=True,
    )  # fmt: skip
    return {line.rpartition("|")[2].strip().split(".")[0] for line in done.stderr.splitlines()}


@pytest.mark.parametrize("args", [["--help"], ["diagnose", "--help"], ["calc", "--help"]])
def test_help_imports_nothing_heavy(args):
    found = loaded(*args)
    assert "click" in found
    assert found & HEAVY == set()


@pytest.mark.first_quick(1)
@pytest.mark.parametrize(
    "args",
    [["diagnose", "chip_in_the_glass", "--no-questions"], ["explain", "seal_dirty"], ["about"]],
)
def test_what_opens_no_casebook_imports_no_database_library(args):
    found = loaded(*args)
    assert "troubleshoot" in found
    assert "sqlalchemy" not in found


def test_pages_of_the_rules_and_the_list_of_cases_need_neither_numpy_nor_a_prompt():
    for args in (["explain", "seal_dirty"], ["cases", "list"]):
        assert loaded(*args) & {"numpy", "prompt_toolkit", "questionary"} == set()


FIRST_QUESTION = """
import sys
from troubleshoot.__main__ import main
from troubleshoot.cli import setup
from troubleshoot.show.terminal import TerminalAsker

def choose(asker, question, choices, about):
    print(question, *sys.modules, sep="\\n")
    raise KeyboardInterrupt

setup.interactive = lambda: True
TerminalAsker.choose = choose
main(["diagnose"])
"""


def test_the_first_question_waits_for_no_casebook_and_no_reasoning(tmp_path):
    """Danger signs are asked for before the casebook is opened, and no case is kept by it."""
    env = {**os.environ, "TROUBLESHOOT_DATA": str(tmp_path / "data"),
           "TROUBLESHOOT_CACHE": str(tmp_path / "kept")}  # fmt: skip
    for _ in range(2):  # at the first time the rules are read from their files, and kept
        done = subprocess.run(
            [sys.executable, "-c", FIRST_QUESTION], capture_output=True, text=True, timeout=120,
            cwd=ROOT, check=False, env=env,
        )  # fmt: skip
    assert done.returncode == 130, done.stderr
    told, _, modules = done.stdout.partition("danger sign")
    modules = modules.split()
    assert "First, one minute" in told
    assert {"prompt_toolkit", "troubleshoot.knowledge.load"} <= set(modules)
    needless = {"sqlalchemy", "numpy", "durable", "questionary", "jinja2", "rapidfuzz", "yaml"}
    assert needless & set(modules) == set()
    assert "troubleshoot.case.deduce" not in modules
    assert not (tmp_path / "data").exists()


def test_what_comes_after_the_first_question_is_loaded_while_it_is_read(monkeypatch):
    """A module that cannot be loaded is left to whoever needs it, who can tell of it."""
    monkeypatch.setattr(first, "DRAWN", 0.0)
    asked = []
    monkeypatch.setattr(first, "import_module", lambda name: asked.append(name) or 1 / 0)
    with first._loading(("one", "two")):
        end = time.monotonic() + 10
        while not asked and time.monotonic() < end:
            time.sleep(0.01)
    assert asked == ["one"]


def test_nothing_is_loaded_beside_a_question_that_was_answered_at_once(monkeypatch):
    asked = []
    monkeypatch.setattr(first, "import_module", asked.append)
    with first._loading(("one",)):
        pass
    assert asked == []


def test_a_case_that_is_led_by_questions_loads_no_reader_before_there_is_something_to_read():
    script = "import sys, troubleshoot.cli.live; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=True,
        cwd=ROOT,
    )  # fmt: skip
    readers = ("troubleshoot.readings.door", "troubleshoot.sources.", "PIL", "scipy", "jinja2")
    assert [m for m in done.stdout.split() if m.startswith(readers)] == []
