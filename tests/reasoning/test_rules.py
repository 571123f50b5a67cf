"""The rule engine: each feature on both engines, and both against the rules read word by word."""

import itertools
import os
import random
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from troubleshoot.errors import UserError
from troubleshoot.knowledge.derivation import Conclusion, Condition, Derivation, Fact
from troubleshoot.reasoning import durable_engine, plain_matcher
from troubleshoot.reasoning import engine as rules
from troubleshoot.reasoning.engine import Firing


def _durable_loads() -> bool:
    try:
        durable_engine.label()
    except ImportError:
        return False
    return True


needs_durable = pytest.mark.skipif(
    not _durable_loads(), reason="durable-rules is not installed here or does not load"
)


@pytest.fixture(params=["plain", pytest.param("durable", marks=needs_durable)])
def engine(request, monkeypatch):
    """Make `rules.run` use one engine, then the other."""
    chosen = None if request.param == "plain" else "durable"
    monkeypatch.setattr(rules, "_durable_name", lambda: chosen)
    return request.param


def rule(id: str, *when: Condition, then: tuple[Conclusion, ...] = ()) -> Derivation:
    then = then or (Conclusion("done", id, "yes"),)
    return Derivation(id=id, when=when, then=then, because="it follows", source="judgement")


def derived(result, facts):
    return result.facts - set(facts)


LEAK = Fact("finding", "rise", "high", "0")
OIL = Fact("finding", "oil", "low", "0")
OIL_LATER = Fact("finding", "oil", "low", "1")
POROUS = Fact("circumstance", "porous", "yes")


# --- one condition ------------------------------------------------------------------------------


@pytest.mark.usefixtures("engine")
class TestConditions:
    def test_value_must_be_listed(self):
        some = rule("some", Condition("finding", "rise", ("high", "very_high")))
        assert rules.run([some], [LEAK]).firings
        assert not rules.run([some], [Fact("finding", "rise", "low", "0")]).firings

    def test_no_values_means_any(self):
        any_value = rule("any", Condition("finding", "rise"))
        facts = [LEAK, Fact("finding", "rise", "low", "0")]
        assert [firing.matched for firing in rules.run([any_value], facts).firings] == [
            (LEAK,),
            (facts[1],),
        ]

    @pytest.mark.parametrize("other", [("reading", "rise"), ("finding", "risen"), ("finding", "")])
    def test_kind_and_name_must_agree(self, other):
        picky = rule("picky", Condition("finding", "rise", ("high",)))
        assert not rules.run([picky], [Fact(*other, "high", "0")]).firings

    @pytest.mark.parametrize(
        "text",
        [
            *(
                "",
                " ",
                '"',
                "'",
                "\\",
                '\\"',
                "a\\",
                "\\u0041",
                "A",
                "µ",
                "κενό",
                "\0",
                "\n",
                "\ud800",
            ),
            *("{", "]", ",", "$s", "$m", "5e-05", "1e+22", "NaN", "true", "null", "x" * 5000),
        ],
    )
    def test_any_text_is_only_equal_to_itself(self, text):
        exact = rule(
            "exact",
            Condition(text, text, (text,)),
            Condition("copy", "of", same_value_as=0, same_epoch_as=0),
            then=(Conclusion("it", "is", text),),
        )
        facts = [Fact(text, text, text, text), Fact("copy", "of", text, text)]
        near = [
            Fact(text, text, text + "x", text),
            Fact(text, text + "x", text, text),
            Fact("copy", "of", text + '"', text),
            Fact("copy", "of", text, text + "\\"),
        ]
        result = rules.run([exact], facts + near)
        assert [firing.matched for firing in result.firings] == [tuple(facts)]
        assert derived(result, facts + near) == {Fact("it", "is", text, text)}


# --- several conditions -------------------------------------------------------------------------


@pytest.mark.usefixtures("engine")
class TestJoins:
    def test_all_conditions_must_match(self):
        both = rule("both", Condition("finding", "rise"), Condition("finding", "oil"))
        assert not rules.run([both], [LEAK]).firings
        assert not rules.run([both], [OIL]).firings
        assert rules.run([both], [LEAK, OIL]).firings

    def test_every_combination_fires(self):
        pairs = rule("pairs", Condition("a", "x"), Condition("b", "y"))
        ones = [Fact("a", "x", str(n)) for n in range(4)]
        twos = [Fact("b", "y", str(n)) for n in range(3)]
        fired = {firing.matched for firing in rules.run([pairs], ones + twos).firings}
        assert fired == set(itertools.product(ones, twos))

    def test_one_fact_may_meet_two_conditions(self):
        twice = rule("twice", Condition("finding", "rise"), Condition("finding", "rise"))
        low = Fact("finding", "rise", "low", "0")
        fired = {firing.matched for firing in rules.run([twice], [LEAK, low]).firings}
        assert fired == set(itertools.product([LEAK, low], repeat=2))

    def test_same_epoch(self):
        now = rule("now", Condition("finding", "rise"), Condition("finding", "oil", (), 0))
        result = rules.run([now], [LEAK, OIL, OIL_LATER])
        assert [firing.matched for firing in result.firings] == [(LEAK, OIL)]

    def test_same_epoch_of_timeless_facts(self):
        timeless = rule("timeless", Condition("a", "x"), Condition("b", "y", same_epoch_as=0))
        facts = [Fact("a", "x", "1"), Fact("b", "y", "1"), Fact("b", "y", "2", "0")]
        assert [f.matched for f in rules.run([timeless], facts).firings] == [tuple(facts[:2])]

    def test_same_value(self):
        agree = rule("agree", Condition("gauge", "one"), Condition("gauge", "two", same_value_as=0))
        one = Fact("gauge", "one", "high", "0")
        high, low = (Fact("gauge", "two", value, "1") for value in ("high", "low"))
        assert [f.matched for f in rules.run([agree], [one, high, low]).firings] == [(one, high)]

    def test_joins_to_different_conditions_with_values(self):
        mixed = rule(
            "mixed",
            Condition("a", "x"),
            Condition("b", "y"),
            Condition("c", "z", ("1", "2"), same_epoch_as=0, same_value_as=1),
        )
        a, b = Fact("a", "x", "9", "5"), Fact("b", "y", "2", "6")
        right = Fact("c", "z", "2", "5")
        wrong = [Fact("c", "z", "2", "6"), Fact("c", "z", "1", "5"), Fact("c", "z", "9", "5")]
        assert [f.matched for f in rules.run([mixed], [a, b, right, *wrong]).firings] == [
            (a, b, right)
        ]


# --- what is concluded --------------------------------------------------------------------------


@pytest.mark.usefixtures("engine")
class TestConclusions:
    def test_epoch_is_that_of_the_first_fact_that_has_one(self):
        dated = rule("dated", Condition("circumstance", "porous"), Condition("finding", "oil"))
        result = rules.run([dated], [POROUS, OIL_LATER])
        assert derived(result, [POROUS, OIL_LATER]) == {Fact("done", "dated", "yes", "1")}

    def test_timeless_facts_give_a_timeless_conclusion(self):
        result = rules.run([rule("r", Condition("circumstance", "porous"))], [POROUS])
        assert derived(result, [POROUS]) == {Fact("done", "r", "yes", "")}

    def test_chain(self):
        steps = [
            rule(f"step{n}", Condition("at", str(n)), then=(Conclusion("at", str(n + 1), "yes"),))
            for n in range(30)
        ]
        result = rules.run(steps, [Fact("at", "0", "yes", "2")])
        assert result.facts == {Fact("at", str(n), "yes", "2") for n in range(31)}
        assert len(result.firings) == 30

    def test_circle_ends(self):
        there = rule("there", Condition("at", "a"), then=(Conclusion("at", "b", "yes"),))
        back = rule("back", Condition("at", "b"), then=(Conclusion("at", "a", "yes"),))
        result = rules.run([there, back], [Fact("at", "a", "yes")])
        assert result.facts == {Fact("at", "a", "yes"), Fact("at", "b", "yes")}
        assert len(result.firings) == 2

    def test_derived_fact_joins_with_a_given_one(self):
        first = rule("first", Condition("finding", "oil"), then=(Conclusion("x", "y", "low"),))
        second = rule(
            "second",
            Condition("finding", "oil"),
            Condition("x", "y", same_epoch_as=0, same_value_as=0),
        )
        result = rules.run([second, first], [OIL, OIL_LATER])
        assert Fact("done", "second", "yes", "0") in result.facts
        assert Fact("done", "second", "yes", "1") in result.facts
        assert [firing.rule for firing in result.firings] == ["first"] * 2 + ["second"] * 2

    def test_added_is_told_even_if_it_was_given_or_found_before(self):
        conclusion = Conclusion("veto", "vent", "yes")
        one = rule("one", Condition("finding", "rise"), then=(conclusion,))
        two = rule("two", Condition("finding", "oil"), then=(conclusion, conclusion))
        veto = Fact("veto", "vent", "yes", "0")
        result = rules.run([one, two], [LEAK, OIL, veto])
        assert result.firings == (
            Firing("one", (LEAK,), (veto,)),
            Firing("two", (OIL,), (veto, veto)),
        )

    def test_facts_no_rule_asks_for_are_returned(self):
        loose = [POROUS, Fact("finding", "rise", "unheard_of", "0")]
        picky = rule("picky", Condition("finding", "rise", ("high",)))
        assert rules.run([picky], loose).facts == set(loose)
        assert rules.run([], loose) == rules.Fixpoint(frozenset(loose), ())

    def test_no_facts(self):
        assert rules.run([rule("r", Condition("a", "x"))], []) == rules.Fixpoint(frozenset(), ())

    def test_same_fact_given_twice_counts_once(self):
        result = rules.run([rule("r", Condition("finding", "rise"))], [LEAK, LEAK])
        assert len(result.firings) == 1

    def test_runs_do_not_see_each_other(self):
        both = rule("both", Condition("finding", "rise"), Condition("finding", "oil"))
        rules.run([both], [LEAK])
        assert not rules.run([both], [OIL]).firings


# --- order and size -----------------------------------------------------------------------------


def test_order_of_rules_and_facts_does_not_matter(engine):
    chain = [
        rule("a", Condition("finding", "rise"), then=(Conclusion("x", "y", "1"),)),
        rule("b", Condition("x", "y"), Condition("finding", "oil", same_epoch_as=0)),
        rule("c", Condition("done", "b"), Condition("circumstance", "porous")),
    ]
    facts = [LEAK, OIL, OIL_LATER, POROUS, Fact("finding", "rise", "low", "1")]
    expected = rules.run(chain, facts)
    assert [firing.rule for firing in expected.firings] == ["a", "a", "b", "b", "c", "c"]
    shuffler = random.Random(5)
    for _ in range(20):
        shuffler.shuffle(chain)
        shuffler.shuffle(facts)
        assert rules.run(chain, facts) == expected


@pytest.mark.parametrize("values", [("high",), ("high", "low"), ()])
def test_many_rules_may_ask_for_the_same_fact(engine, values):
    many = [rule(f"r{n:03}", Condition("finding", "rise", values)) for n in range(400)]
    result = rules.run(many, [LEAK])
    assert [firing.rule for firing in result.firings] == [r.id for r in many]


def test_rules_may_ask_for_many_names(engine):
    many = [rule(f"r{n:04}", Condition("finding", str(n))) for n in range(1100)]
    result = rules.run(many, [Fact("finding", str(n), "1") for n in range(0, 1100, 100)])
    assert [firing.rule for firing in result.firings] == [r.id for r in many[::100]]


def test_largest_rule_allowed(engine):
    values = tuple(str(n) for n in range(20))
    first = Condition("a", "x", values)
    joined = Condition("a", "x", values, same_epoch_as=0, same_value_as=0)
    large = rule("large", first, *[joined] * 15)
    result = rules.run([large], [Fact("a", "x", "19", "0"), Fact("a", "x", "19", "1")])
    assert len(result.firings) == 2


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ([rule("r")], "'r' has 0 conditions"),
        ([rule("r", *[Condition("a", "x")] * 17)], "17 conditions"),
        ([rule("r", Condition("a", "x", tuple(map(str, range(21)))))], "21 values"),
        ([rule("r", Condition("a", "x", same_epoch_as=0))], "join it to an earlier one"),
        ([rule("r", Condition("a", "x"), Condition("a", "y", (), None, -1))], "earlier one"),
        ([rule("r", Condition("a", "x"))] * 2, "Two derivations are called 'r'"),
    ],
)
def test_rules_that_cannot_run_are_refused(engine, bad, said):
    with pytest.raises(UserError, match=said):
        rules.run(bad, [LEAK])


# --- both engines against the rules read word by word -------------------------------------------


def by_the_book(derivations, facts):
    """The fixpoint by trying every combination of facts until nothing new comes."""
    known, before = set(facts), None
    while known != before:
        before = set(known)
        matches = {
            (rule, matched)
            for rule in derivations
            for matched in itertools.product(before, repeat=len(rule.when))
            if all(
                (fact.kind, fact.name) == (condition.kind, condition.name)
                and (not condition.values or fact.value in condition.values)
                and condition.same_epoch_as in (None, *_equal(matched, fact, "epoch"))
                and condition.same_value_as in (None, *_equal(matched, fact, "value"))
                for condition, fact in zip(rule.when, matched, strict=True)
            )
        }
        for rule, matched in matches:
            dated = [fact.epoch for fact in matched if fact.epoch]
            for new in rule.then:
                known.add(Fact(new.kind, new.name, new.value, dated[0] if dated else ""))
    return matches


def _equal(matched, fact, field):
    return [n for n, m in enumerate(matched) if getattr(m, field) == getattr(fact, field)]


kinds, names = st.sampled_from(["k", "l"]), st.sampled_from(["n", "o"])
values = st.sampled_from(["", "1", "2", '"é\\'])
epochs = st.sampled_from(["", "0", "1"])
facts_lists = st.lists(st.builds(Fact, kinds, names, values, epochs), max_size=7)


@st.composite
def rule_sets(draw):
    made = []
    for number in range(draw(st.integers(1, 4))):
        when = []
        for position in range(draw(st.integers(1, 3))):
            join = st.none() | st.integers(0, position - 1) if position else st.none()
            listed = draw(st.lists(values, max_size=3))
            when.append(Condition(draw(kinds), draw(names), tuple(listed), draw(join), draw(join)))
        then = draw(st.lists(st.builds(Conclusion, kinds, names, values), min_size=1, max_size=2))
        made.append(rule(f"r{number}", *when, then=tuple(then)))
    return made


slow_is_fine = settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@slow_is_fine
@given(rule_sets(), facts_lists)
def test_plain_matcher_does_what_the_rules_say(derivations, facts):
    assert plain_matcher.all_matches(derivations, facts) == by_the_book(derivations, facts)


@needs_durable
@slow_is_fine
@given(rule_sets(), facts_lists, st.randoms(use_true_random=False))
def test_both_engines_agree(derivations, facts, shuffler):
    plain = plain_matcher.all_matches(derivations, facts)
    shuffler.shuffle(facts)
    assert durable_engine.all_matches(derivations, facts) == plain


@needs_durable
@settings(max_examples=40, deadline=None)
@given(st.data())
def test_both_engines_agree_on_any_text(data):
    texts = data.draw(st.lists(st.text(max_size=6), min_size=2, max_size=3, unique=True))
    text = st.sampled_from(texts)
    facts = data.draw(st.lists(st.builds(Fact, text, text, text, text), max_size=8))
    made = [
        rule(
            "one", Condition(data.draw(text), data.draw(text), tuple(data.draw(st.lists(text))[:3]))
        ),
        rule(
            "two",
            Condition(data.draw(text), data.draw(text)),
            Condition(
                data.draw(text), data.draw(text), (), 0, data.draw(st.sampled_from([None, 0]))
            ),
            then=(Conclusion(data.draw(text), data.draw(text), data.draw(text)),),
        ),
    ]
    assert durable_engine.all_matches(made, facts) == plain_matcher.all_matches(made, facts)


@needs_durable
def test_runs_in_which_nothing_fires_do_not_end_the_process():
    """With freed memory filled in, the library frees what it never allocated, unless we help."""
    code = """
from troubleshoot.knowledge.derivation import Conclusion, Condition, Derivation, Fact
from troubleshoot.reasoning import engine as rules
when = (Condition("a", "x", ("1",)), Condition("a", "y"))
rule = Derivation("r", when, (Conclusion("b", "z", "1"),), "", "judgement")
for facts in [], [Fact("a", "x", "2")], [Fact("a", "x", "1")], [Fact("c", "c", "c")]:
    assert not rules.run([rule], facts).firings
"""
    outcome = subprocess.run(
        [sys.executable, "-c", code],
        env={**os.environ, "MALLOC_PERTURB_": "165"},
        timeout=60,
        check=False,
    )
    assert outcome.returncode == 0


# --- which engine, and what it leaves behind ----------------------------------------------------


@needs_durable
def test_durable_rules_is_used_where_it_loads():
    assert rules.engine_name().startswith("durable-rules 2.")


@pytest.fixture
def no_durable(monkeypatch):
    """As where the library is absent: Python refuses to import a module set to None."""
    monkeypatch.setitem(sys.modules, "durable", None)
    monkeypatch.setitem(sys.modules, "durable.engine", None)
    rules._durable_name.cache_clear()
    yield
    rules._durable_name.cache_clear()


@pytest.mark.usefixtures("no_durable")
def test_plain_matcher_is_used_where_durable_rules_does_not_load():
    assert rules.engine_name() == "plain matcher"
    assert rules.run([rule("r", Condition("finding", "rise"))], [LEAK]).firings


def test_importing_rules_does_not_import_durable():
    code = (
        "import sys; import troubleshoot.reasoning.engine; "
        "sys.exit(any(name.startswith('durable') for name in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_no_threads_are_left_running():
    before = threading.active_count()
    rules.run([rule("thread", Condition("finding", "rise"))], [LEAK])
    assert threading.active_count() == before


@needs_durable
def test_an_error_inside_a_firing_is_raised(monkeypatch):
    """The library itself would swallow it, and the match would be lost."""
    monkeypatch.setattr(durable_engine, "int", None, raising=False)
    with pytest.raises(RuntimeError, match="not callable"):
        durable_engine.all_matches([rule("r", Condition("finding", "rise"))], [LEAK])


@needs_durable
def test_state_is_deleted_after_each_run(monkeypatch):
    """Also for facts that no rule asks for, and when a run fails on the way."""
    picky = rule("picky", Condition("finding", "rise", ("high",)))
    (ruleset,) = durable_engine._program((picky,))._rulesets
    opened, deleted = set(), []
    assert_fact, delete_state = ruleset.assert_fact, ruleset.delete_state
    ruleset.assert_fact = lambda fact: (opened.add(fact["sid"]), assert_fact(fact))[1]
    ruleset.delete_state = lambda sid: (deleted.append(sid), delete_state(sid))[1]
    for n in range(200):
        rules.run([picky], [LEAK if n % 2 else POROUS])
    monkeypatch.setattr(durable_engine, "_message", None)  # now a run fails on its way
    with pytest.raises(TypeError):
        durable_engine.all_matches([picky], [LEAK])
    durable_engine._program.cache_clear()
    assert len(opened) == 201
    assert set(deleted) == opened
    for sid in opened:
        with pytest.raises(Exception, match="error code"):
            ruleset.get_state(sid)


@needs_durable
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="reads /proc/self/statm (Linux)")
def test_memory_does_not_grow():
    many = [
        rule(f"r{n}", Condition("finding", "rise"), Condition("finding", "oil")) for n in range(30)
    ]

    def pages() -> int:
        return int(Path("/proc/self/statm").read_text().split()[1])

    for _ in range(20):
        durable_engine.all_matches(many, [LEAK, OIL])
    before = pages()
    for _ in range(200):
        durable_engine.all_matches(many, [LEAK, OIL])
    # Bytes. Kept states would take over 100 MB; the allocator alone moves it by some 6 MB.
    assert (pages() - before) * 4096 < 20e6


@needs_durable
def test_numbers_used_as_message_ids_have_different_hashes():
    """The library tells messages apart by the 32-bit FNV-1a hash of their id."""

    def fnv1a(text: str) -> int:
        value = 0x811C9DC5
        for byte in text.encode():
            value = (value ^ byte) * 0x01000193 % 2**32
        return value

    ids = [durable_engine._OPENING["id"], *map(str, range(50_000))]
    assert len(set(map(fnv1a, ids))) == len(ids)
