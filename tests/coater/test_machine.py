"""The machine profile: what it filters, what it refuses, and when its hash changes."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from troubleshoot.coater.fields import FACTS
from troubleshoot.coater.machine import Machine
from troubleshoot.coater.profile import machine_from, read_machine
from troubleshoot.errors import UserError


def test_an_unknown_fact_filters_nothing():
    """Whatever an entry needs of the machine, an empty profile allows it."""
    for key, fact in FACTS.items():
        for value in fact.choices:
            assert Machine().allows({key: value})
            assert Machine().allows({key: [value]})


@given(st.data())
def test_a_known_fact_filters_what_contradicts_it(data):
    """Allowed exactly when every known fact is among the values wanted."""
    facts = {
        key: data.draw(st.sampled_from(list(fact.choices)))
        for key, fact in FACTS.items()
        if data.draw(st.booleans())
    }
    where = {
        key: data.draw(one | st.lists(one, min_size=1))
        for key, fact in FACTS.items()
        for one in [st.sampled_from(list(fact.choices))]
        if data.draw(st.booleans())
    }
    wanted = {k: [v] if isinstance(v, str) else v for k, v in where.items()}
    contradicted = any(k in facts and facts[k] not in v for k, v in wanted.items())
    assert Machine(facts=facts).allows(where) is not contradicted


def test_what_is_not_known_counts_by_how_common_it_is():
    """One bench-top coater in ten has a dry pump; a known pump is no chance any more."""
    dry, oil = {"pump_kind": "dry"}, {"pump_kind": ["rotary_two_stage", "rotary_one_stage"]}
    assert Machine().chance(dry) == pytest.approx(0.1)
    assert Machine().chance(oil) == pytest.approx(0.9)
    assert Machine(facts={"pump_kind": "dry"}).chance(dry) == 1
    assert Machine().chance({"chamber": "metal"}) == 1  # how common that is nobody said


@pytest.mark.parametrize("fact", [f for f in FACTS.values() if f.common], ids=lambda f: f.key)
def test_how_common_each_choice_is_adds_up(fact):
    assert set(fact.common) == set(fact.choices)
    assert sum(fact.common.values()) == pytest.approx(1)


def test_a_profile_is_read_into_si(tmp_path):
    """Numbers with units become SI; what was typed is kept to be shown."""
    path = tmp_path / "bench.yaml"
    path.write_text(
        "name: the old one\ngauge_unit: Torr\nshutter: yes\nusual_time: 5 min\n"
        "usual_base: 0.03 mbar\nusual_current: 20 mA\nvolume: 3 L\n"
    )
    machine = read_machine(path)
    assert (machine.name, machine.gauge_unit) == ("the old one", "Torr")
    assert machine.facts == {"shutter": "yes"}
    assert machine.numbers == pytest.approx(
        {"usual_time": 300.0, "usual_base": 3.0, "usual_current": 0.02, "volume": 0.003}
    )
    assert machine.shown["usual_time"] == "5 min"


def test_a_profile_written_out_and_read_again_is_the_same():
    """`as_dict` loses nothing: same facts, numbers and hash."""
    first = machine_from(
        {"name": "x", "shutter": "no", "usual_time": "7 min", "pump_speed": "5 m3/h"}, "p.yaml"
    )
    again = machine_from(first.as_dict(), "p.yaml")
    assert again == first
    assert again.hash == first.hash


def test_the_hash_changes_with_anything_in_the_profile():
    """Name, unit, a fact, a number: each of them alone."""
    base = {"name": "x", "shutter": "no", "usual_time": "7 min"}
    others = [
        {**base, "name": "y"},
        {**base, "shutter": "yes"},
        {**base, "usual_time": "8 min"},
        {**base, "gauge_unit": "Pa"},
        {**base, "volume": "3 L"},
    ]
    hashes = {machine_from(data, "p.yaml").hash for data in (base, *others)}
    assert len(hashes) == 1 + len(others)
    assert (
        machine_from(dict(reversed(base.items())), "p.yaml").hash
        == machine_from(base, "p.yaml").hash
    )


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"shuter": "yes"}, ["p.yaml", "unknown key 'shuter'", "did you mean 'shutter'?"]),
        ({"shutter": "maybe"}, ["p.yaml, key shutter", "'maybe'", "yes, no"]),
        ({"shutter": True}, ["p.yaml, key shutter", "yes, no"]),
        ({"shutter": ["yes"]}, ["p.yaml, key shutter", "yes, no"]),
        ({"usual_time": "5"}, ["p.yaml, key usual_time"]),
        ({"usual_time": "5 mbar"}, ["p.yaml, key usual_time"]),
        ({"usual_base": "-1 mbar"}, ["p.yaml, key usual_base"]),
        ({"usual_base": None}, ["p.yaml, key usual_base"]),
        ({"usual_base": {"a": 1}}, ["p.yaml, key usual_base"]),
        ({"gauge_unit": "furlong"}, ["furlong"]),
        ({"gauge_unit": "barg"}, ["barg", "counts from the atmosphere"]),
    ],
)
def test_what_a_profile_may_not_say(data, words):
    """A wrong key, choice, number or unit: the file, the key and what would do."""
    with pytest.raises(UserError) as caught:
        machine_from(data, "p.yaml")
    for word in words:
        assert word in str(caught.value)


def test_a_profile_must_be_keys_with_values(tmp_path):
    """A list is no profile."""
    path = tmp_path / "bench.yaml"
    path.write_text("- shutter\n")
    with pytest.raises(UserError, match=r"bench\.yaml"):
        read_machine(path)
