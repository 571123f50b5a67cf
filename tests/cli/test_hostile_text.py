"""Names, notes and titles from elsewhere: nothing of them is obeyed by a terminal or a page.

Escape sequences as in ECMA-48, marks of direction as in UAX #9, markup of HTML 5 and of rich.
"""

import re
import unicodedata
from pathlib import Path

import pytest

import troubleshoot

ESCAPES = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202etxt\r\b[bold red]<script>alert(1)</script>"
LONG = "x" * 100_000


@pytest.fixture
def book(run, tmp_path, monkeypatch):
    monkeypatch.setenv("TROUBLESHOOT_DATA", str(tmp_path / "data"))
    case = tmp_path / "case.yaml"
    text = ESCAPES.encode("unicode_escape").decode()
    case.write_text(
        f'name: "{text}"\ncomplaint: slow_pump_down\nwords: "{text}"\nmachine:\n  name: "{text}"\n'
        f'journal:\n  - note: "{text}"\n  - {{finding: hiss, answer: unknown}}\n'
    )
    told = ("--complaint", "slow_pump_down", "--cause", "unlisted", "--note", ESCAPES)
    ended = run("cases", "add", *told)
    assert ended.status == 0, ended.err
    return case


def clean(text):
    for character in text:
        kind = unicodedata.category(character)
        assert kind not in ("Cc", "Zl", "Zp") or character in "\n\t", repr(character)
        assert character != "\u202e"


def test_a_case_file_prints_nothing_that_is_obeyed(run, book):
    for more in (("--no-questions",), ("--no-questions", "--full"), ("--json",)):
        ended = run("diagnose", book, *more)
        assert ended.status == 0, ended.err
        clean(ended.out)
        clean(ended.err)


def test_a_report_holds_no_script_of_a_name(run, book, tmp_path):
    pages = {name: tmp_path / f"{name}.html" for name in ("report", "service-sheet", "forms")}
    args = [part for name, path in pages.items() for part in (f"--{name}", path)]
    assert run("diagnose", book, "--no-questions", *args).status == 0
    for path in pages.values():
        page = path.read_text()
        assert "<script>alert" not in page
        clean(re.sub(r"\r\n", "\n", page))


@pytest.mark.parametrize(
    "args",
    [
        ("cases", "list"), ("cases", "show", "1"), ("cases", "search", "txt"),
        ("cases", "line", "1"), ("cases", "stats"), ("cases", "title", "1", ESCAPES),
        ("cases", "note", "1", ESCAPES), ("explain", ESCAPES), ("diagnose", ESCAPES),
        (ESCAPES,), ("machine", "show", ESCAPES), ("calc", ESCAPES), ("read", ESCAPES),
    ],
    ids=lambda args: " ".join(args)[:16].encode("ascii", "replace").decode(),
)  # fmt: skip
def test_a_command_prints_nothing_that_is_obeyed(run, book, args):
    ended = run(*args)
    clean(ended.out)
    clean(ended.err)


@pytest.mark.parametrize(
    "args",
    [("explain", LONG), (LONG,), ("machine", "show", LONG), ("diagnose", "--machine", LONG),
     ("calc", LONG), ("convert", LONG), ("rules", "check", "--layer", LONG)],
    ids=lambda args: " ".join(args)[:16],
)  # fmt: skip
def test_an_error_quotes_no_more_than_its_beginning(run, args):
    ended = run(*args)
    assert ended.status == 2
    assert len(ended.err) < 3000


def test_commands_print_through_one_place():
    package = Path(troubleshoot.__file__).parent / "cli"
    others = {
        path.name
        for path in package.rglob("*.py")
        if re.search(r"click\.s?echo\(|(?<![\w.])print\(", path.read_text(encoding="utf-8"))
    }
    assert others == {"echo.py", "progress.py"}  # which writes nothing of anybody else's
