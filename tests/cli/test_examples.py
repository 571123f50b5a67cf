"""Every example at the end of a help is run, in a folder that holds what it names."""

import shlex
import shutil

import pytest

from tests.cli.checkout import ROOT
from tests.docs_commands import helps
from troubleshoot.cli.groups import EXAMPLES

ASKS = (
    *("machine new", "--casebook lab.db machine new"),
    *("drill --level 2", "drill --exam --sheet exam.pdf"),
)
"""Examples that need somebody to answer."""
ELSEWHERE = ("chart", "handbook", "demos", "rules check")
"""Commands that take long; their own tests run them."""
TYPED = [line.removeprefix("troubleshoot ") for line in EXAMPLES.read_text().splitlines()]
CALC = [line for line in TYPED if line.startswith("calc ")]
LINES = [line for line in TYPED if not line.startswith((*ELSEWHERE, "calc "))]


@pytest.fixture
def desk(run, tmp_path, monkeypatch):
    """A folder with the demo files, a photograph and rules; a book of two cases where asked."""
    shutil.copytree(ROOT / "cases_demo", tmp_path / "cases_demo")
    for file in (ROOT / "cases_demo").iterdir():
        shutil.copy(file, tmp_path)
    (tmp_path / "seal.jpg").write_bytes(b"\xff\xd8\xff")
    (tmp_path / "our_rules").mkdir()
    (tmp_path / "our_rules" / "words.yaml").write_text(
        "synonyms:\n  our_jar:\n    source: ours\n    means: [glass]\n    words: [our jar]\n"
    )
    monkeypatch.chdir(tmp_path)

    def made(*, book):
        if book:
            run(
                "cases",
                "add",
                "--complaint",
                "pressure_not_reached",
                "--cause",
                "seal_dirty",
                "--seen",
                "seal_look=dust_or_flakes",
                "--cured-by",
                "wipe_and_reseat_seals",
            )
            run("cases", "add", "--complaint", "no_strike", "--cause", "unlisted")
            run("cases", "reopen", "2", "--why", "still dark")
            run("cases", "export", "other_book.jsonl")

    return made


def ended(run, desk, line):
    words = shlex.split(line)
    desk(book=words[0] in ("cases",))
    if words[0] == "machine" and words[1] in ("set", "good-day"):
        run("machine", "read", "machine_sieve_room.yaml")
    return run(*words)


@pytest.mark.first_quick(12)
@pytest.mark.parametrize("line", LINES)
def test_an_example_runs(run, desk, line):
    said = ended(run, desk, line)
    if line in ASKS:
        assert "There is no terminal to ask at" in said.err
        return
    assert said.status == 0, said.err
    assert said.out or "Written" in said.err


@pytest.mark.first_quick(12)
@pytest.mark.parametrize("line", CALC)
def test_an_example_of_calc_runs(run, line):
    said = run(*shlex.split(line))
    assert (said.status, said.err) == (0, "")


def test_commands_show_two_examples_and_no_sentence_is_cut():
    shown = dict(helps())
    plain = {name: text for name, text in shown.items() if "\nCommands:" not in text}
    for name, text in shown.items():
        listed = text.partition("\nCommands:")[2]
        assert "..." not in listed, name
    with_two = {name for name, text in plain.items() if text.count("troubleshoot ") > 2}
    assert len(with_two) >= 0.9 * len(plain)
