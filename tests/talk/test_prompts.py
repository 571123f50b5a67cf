"""Prompts one by one give the same journal as the conversation that waits, and are plain values."""

import json

import pytest

from tests.talk.scripted import STILL, Script, Talk
from tests.talk.test_conversation import PATHS, VENT, talk
from troubleshoot.case.diagnose import Bench
from troubleshoot.case.journal import append
from troubleshoot.coater.machine import Machine
from troubleshoot.talk.prompts import Answer, ask

AT = "2026-01-05T09:00:00"


def opened(rules):
    return append((), AT, "opened", rules, rules=rules.hash, machine="none")


def said(script, prompt):
    """The script's answer to a prompt, as a front end would send it."""
    if prompt.kind == "several":
        return script.several(prompt.question, prompt.choices)
    if prompt.kind == "choose":
        return script.choose(prompt.question, prompt.choices)
    return script.text(prompt.question)


def by_prompts(bench, answers):
    """A whole case, one call a question; the journal, the end and all prompts."""
    script, prompts = Script({**VENT, **answers}), []
    turn = ask(bench, opened(bench.rules), at=AT)
    while turn.prompt is not None:
        prompts.append(turn.prompt)
        assert len(prompts) < 200
        value = said(script, turn.prompt)
        turn = ask(bench, turn.journal, [*turn.pending, Answer(value, AT)], at=AT)
    return turn, prompts


def content(journal):
    return [(e.kind, dict(e.data)) for e in journal if e.kind not in ("opened", "parked")]


@pytest.mark.parametrize("path", PATHS)
def test_one_call_a_question_gives_the_same_journal(small_bench, path):
    whole = talk(small_bench, PATHS[path])
    ended = whole.run()
    turn, prompts = by_prompts(small_bench, PATHS[path])
    assert turn.ended == ended
    assert content(turn.journal) == content(whole.journal)
    assert [p.question for p in prompts if STILL not in p.question] == whole.asker.asked


def test_every_prompt_is_plain_values_with_what_it_is_about(small_bench):
    _, prompts = by_prompts(small_bench, {})
    for prompt in prompts:
        record = json.loads(json.dumps(prompt.as_record()))
        assert record["about"]["kind"]
        assert record["kind"] in ("choose", "several", "text", "path")
        assert all(c["value"] and c["label"] for c in record["choices"])


def test_an_aside_shows_its_answer_with_the_same_question_again(small_bench):
    knob = next(t for t in walk(small_bench) if t.prompt.about.id == "knob")
    why = ask(small_bench, knob.journal, [Answer("/why", AT)], at=AT)
    assert why.prompt.question == knob.prompt.question
    assert why.pending == (Answer("/why", AT),)
    assert {t.what for t in why.prompt.told} == {"line"}
    assert len(why.prompt.told) > 1, "the reason, and what the outcomes would mean"
    after = ask(small_bench, why.journal, [*why.pending, Answer("open", AT)], at=AT)
    assert after.pending == ()
    assert after.journal[-1].data["answer"] == "open"


def walk(bench):
    """Every turn of a case with the usual answers."""
    script = Script(VENT)
    turn = ask(bench, opened(bench.rules), at=AT)
    while turn.prompt is not None:
        yield turn
        value = said(script, turn.prompt)
        turn = ask(bench, turn.journal, [*turn.pending, Answer(value, AT)], at=AT)


def test_the_same_call_twice_gives_the_same_turn(small_bench):
    for turn in walk(small_bench):
        again = ask(small_bench, turn.journal, turn.pending, at=AT)
        assert again.prompt.question == turn.prompt.question
        assert again.journal == turn.journal


def test_cautions_and_steps_come_with_the_prompt_they_belong_to(rules):
    """A danger sign: the stop is told, with its steps, before the question whether it was done."""
    bench = Bench(rules, Machine())
    turn = ask(bench, opened(rules), at=AT)
    for value in ("chip_or_crack", "none"):
        turn = ask(bench, turn.journal, [*turn.pending, Answer(value, AT)], at=AT)
    assert turn.prompt.about.kind == "stop"
    assert [t.what for t in turn.prompt.told][:2] == ["caution", "steps"]
    assert turn.prompt.told[0].values[2] is True


def test_stopping_ends_the_talk_with_its_journal(small_bench):
    turn = next(t for t in walk(small_bench) if t.prompt.about.id == "knob")
    ended = ask(small_bench, turn.journal, [Answer("/stop", AT)], at=AT)
    assert (ended.prompt, ended.ended) == (None, "stopped")
    assert Talk(small_bench, {}, journal=ended.journal, kill_at=0).journal == ended.journal
