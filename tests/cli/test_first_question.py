"""The danger question comes before the casebook: what its answer calls for is told all the same."""

import pytest

from troubleshoot.casebook.store import Store
from troubleshoot.cli import setup
from troubleshoot.show.terminal import TerminalAsker


@pytest.fixture
def answers(monkeypatch):
    """Answer the questions of the terminal from a list; the end of the list is Ctrl-C."""
    left = []

    def choose(asker, question, choices, about=None):
        if not left:
            raise KeyboardInterrupt
        return left.pop(0)

    monkeypatch.setattr(setup, "interactive", lambda: True)
    monkeypatch.setattr(TerminalAsker, "choose", choose)
    return left.extend


@pytest.mark.parametrize("signs", [[], ["smell_or_smoke"], ["smell_or_smoke", "gas_alarm"]])
def test_the_first_answer_is_kept_at_the_head_of_its_case(run, answers, signs):
    answers([*signs, "none"])
    ended = run("diagnose")
    assert ended.status == 130
    assert "Nothing is lost" in ended.err
    said = [(e.kind, e.data.get("sign") or e.data.get("done")) for e in Store().journal(1)]
    assert said == [("opened", None), *(("sign", s) for s in signs), ("opening", "signs")]


def test_going_back_over_the_first_answer_asks_it_again(run, answers):
    answers(["none", "/back", "smell_or_smoke", "none"])
    run("diagnose")
    assert [e.data["sign"] for e in Store().journal(1) if e.kind == "sign"] == ["smell_or_smoke"]


def test_a_casebook_that_cannot_be_used_is_told_with_what_the_sign_calls_for(
    run, answers, tmp_path, rules
):
    book = tmp_path / "book.db"
    book.write_text("no casebook")
    answers(["gas_alarm", "none"])
    ended = run("--casebook", book, "diagnose")
    assert ended.status == 2
    assert "cannot be used" in ended.err
    stop = rules.cautions[rules.signs["gas_alarm"].caution]
    assert stop.make_safe
    assert all(step[:30] in " ".join(ended.out.split()) for step in stop.make_safe)


def test_a_casebook_that_cannot_be_used_is_told_after_one_answer(run, answers, tmp_path):
    book = tmp_path / "book.db"
    book.write_text("no casebook")
    answers(["none"])
    ended = run("--casebook", book, "diagnose")
    assert ended.status == 2
    assert "cannot be used" in ended.err
