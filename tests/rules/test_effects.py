"""What actions say that they do to the machine, against their texts and against another reader."""

import dataclasses

import pytest

from tests.rules.danger import WORDS, read
from troubleshoot.knowledge.effects import EFFECTS, WITH, by_text, closure, told
from troubleshoot.knowledge.lint.remarks import RulesSeen
from troubleshoot.knowledge.lint.safety import effect_not_declared
from troubleshoot.knowledge.load import load_with_places, shipped


@pytest.fixture(scope="module")
def loaded():
    return load_with_places([shipped()])


def doings(rules):
    return [*rules.actions.values(), *rules.workarounds.values()]


def test_every_text_was_read_by_somebody_else(rules):
    assert set(read()) == {d.id for d in doings(rules)}
    assert {w for words in read().values() for w in words} <= set(WORDS) == set(EFFECTS)


def test_nothing_is_left_undeclared_that_another_reader_saw(rules):
    for doing in doings(rules):
        assert not read()[doing.id] - doing.effects, doing.id


def weakened(rules):
    """Every rule base in which one declared word of one action or way round is missing."""
    for kind in ("actions", "workarounds"):
        pool = getattr(rules, kind)
        for doing in pool.values():
            for word in doing.does:
                less = doing.model_copy(update={"does": [w for w in doing.does if w != word]})
                yield doing.id, word, rules.model_copy(update={kind: {**pool, doing.id: less}})


def test_no_declaration_can_be_dropped_unnoticed(loaded):
    """Each declared word is missed by the check of the texts or by the other reader."""
    tried = 0
    for name, word, rules in weakened(loaded.rules):
        doing = rules.actions.get(name) or rules.workarounds[name]
        seen = read()[name] - doing.effects
        said = by_text(getattr(doing, "steps", [])) | by_text([getattr(doing, "say", "")])
        assert word in seen or word in said - doing.effects, (name, word)
        tried += 1
    assert tried > 100


def test_the_check_of_the_rules_sees_what_the_text_says(loaded):
    """Dropping a word that the text says is a remark; with it there is none."""
    view = RulesSeen(loaded)
    assert not list(effect_not_declared(view))
    for name in ("witness_slip", "press_lid", "wipe_and_reseat_seals"):
        bare = loaded.rules.actions[name].model_copy(update={"does": []})
        rules = loaded.rules.model_copy(update={"actions": {**loaded.rules.actions, name: bare}})
        changed = RulesSeen(dataclasses.replace(loaded, rules=rules))
        assert [f for f in effect_not_declared(changed) if name in f.message], name


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Pump to base and note the base.", {"under_vacuum"}),
        ("Do not pump it again.", set()),
        ("Coat as usual.", {"discharge"}),
        ("Look at the coat.", set()),
        ("Never coat in room air; wait.", set()),
        ("Open the needle valve slowly.", {"gas_in"}),
        ("Press the metal rim evenly.", {"presses_glass"}),
        ("Take the specimen out.", {"hands_inside"}),
        ("Leave the cover on.", set()),
        ("Take off the cover.", {"guard_off"}),
    ],
)
def test_a_sentence_that_forbids_a_thing_does_not_do_it(text, words):
    assert by_text([text]) == closure(words)


def test_what_comes_with_a_word_is_closed():
    for word in EFFECTS:
        assert closure(closure([word])) == closure([word])
    assert set(WITH) <= set(EFFECTS)
    assert list(told(["Pump. Do not vent.", "Look"])) == ["Pump", "Do ", "Look"][:3]
