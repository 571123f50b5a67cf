"""Some odd inputs for every reader, and every input that was ever a fault."""

import random

import pytest

from tests.fuzz.__main__ import FAULTS, fault
from tests.fuzz.mutate import mutated
from tests.fuzz.readers import READERS, WORDS

SOME = {"log": 60, "logbook line": 20, "rules": 150}


@pytest.mark.parametrize("name", READERS)
def test_an_odd_input_is_read_or_refused_in_a_sentence(name):
    chance, corpus = random.Random(name), READERS[name].corpus()
    assert corpus
    for content in corpus:
        assert fault(name, content) is None, content[:200]
    for _ in range(SOME.get(name, 300)):
        content = mutated(corpus, chance, WORDS)[: READERS[name].most]
        assert fault(name, content) is None, content[:500]


@pytest.mark.parametrize("path", sorted(FAULTS.glob("*/*")), ids=lambda p: p.name)
def test_what_was_a_fault_is_none_any_more(path):
    assert fault(path.parent.name.replace("_", " "), path.read_bytes()) is None
