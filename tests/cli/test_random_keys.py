"""Random keys at a real terminal: what the journal holds is what the keys said.

What they reach depends on how quick the machine is, so this is not run by itself; the same is held
without a terminal in `tests/show/test_picking.py`.
"""

import random
import sys

import pytest

pytest.importorskip("pexpect")
pytest.importorskip("pyte")
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals are POSIX")

from tests.cli.test_pty import Terminal  # noqa: E402
from troubleshoot.casebook.store import Store  # noqa: E402

WORDS = [
    "log",
    "bad vacuum",
    "pressure is stuck",
    "no",
    "dust",
    "unknown",
    "yes",
    "1",
    "x",
    *["\x15unknown\r"] * 4,
]
KEYS = [
    *"1234" * 4, *"56789abn ?<=+.", *["\r"] * 12, *["\x1b[B"] * 12, *["\x1b[A"] * 3,
    *["\x1b"] * 8, "\t", "\x7f", "\x1b[5~", "\x1b[6~", "\x1bOP", *WORDS,
]  # fmt: skip


def findings():
    return [e for e in Store().journal(1) if e.kind == "finding" and "answer" in e.data]


def said_so(before, key, texts):
    """Whether the screen before a key, and the key, say one of these answers."""
    for row in before.splitlines():
        text = row.lstrip("> ")
        number, _, label = text.partition(" ")
        if not any((label if number.isdigit() else text).lstrip().startswith(t) for t in texts):
            continue
        if row.startswith(">") and "\r" in key:
            return True
        if number.isdigit() and key.strip()[-1:] and number.endswith(key.strip()[-1]):
            return True
    # A question that takes a number: the word was typed behind it.
    typed = key if key.endswith("unknown\r") else before.strip()
    return "\r" in key and typed.strip().endswith("unknown") and "Don't know" in texts


@pytest.mark.long
@pytest.mark.parametrize(("rows", "columns", "seed"), [(24, 80, 1), (20, 60, 2)])
def test_every_answer_in_the_journal_stood_on_the_screen_and_was_taken(
    tmp_path, rules, rows, columns, seed
):
    draw = random.Random(seed)
    (tmp_path / "case.yaml").write_text("complaint: unstable_current\n", encoding="utf-8")
    t = Terminal(tmp_path, "diagnose", "case.yaml", rows=rows, columns=columns)
    t.wait_for("min hands-on")
    count = 0
    for _ in range(90):
        before, key = t.now, draw.choice(KEYS)
        if not t.child.isalive():
            break
        t.keys(key)
        while t._read(0.15):
            pass
        new = findings()[count:]
        count += len(new)
        for entry in new[:1]:
            finding = rules.findings[entry.data["finding"]]
            answer = entry.data["answer"]
            texts = [
                {"unknown": "Don't know"}.get(a) or finding.answers[a][: columns // 2]
                for a in ([answer] if isinstance(answer, str) else answer)
            ]
            assert said_so(before, key, texts), (key, texts, before)
    assert count > 1, t.now + str([e.kind for e in Store().journal(1)])
    assert "Traceback" not in t.screen
    assert "fault of the program" not in t.screen
    t.child.close(force=True)


@pytest.mark.slow
def test_a_terminal_that_cannot_move_its_cursor_is_asked_line_by_line(tmp_path):
    t = Terminal(tmp_path, "diagnose", TERM="dumb").wait_for("danger sign")
    t.keys("\n").wait_for("Nothing is chosen yet")
    t.keys("none of\n").wait_for("Enter takes it")
    t.keys("\n").wait_for("What is the trouble?")
    t.keys("stop here\n").wait_for("Enter takes it")
    t.keys("\n")
    assert t.end() == 0
    assert "is kept" in t.screen
    assert "Traceback" not in t.screen
