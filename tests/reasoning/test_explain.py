"""Why: weights of evidence, the answer that would overturn the verdict, and conflict."""

import itertools
import math
import random
from dataclasses import replace

import numpy as np
import pytest

from tests.reasoning.small import (
    action,
    cause,
    complaint,
    finding,
    group,
    random_finding,
    random_rules,
    rule_base,
    shares,
)
from tests.reasoning.two_level import causes_and_findings, observation, observed
from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning import belief as beliefs
from troubleshoot.reasoning.belief import (
    Epoch,
    Evidence,
    Network,
    Observation,
    Treatment,
    posterior,
)
from troubleshoot.reasoning.explain import conflict, in_words, overturn, weights
from troubleshoot.reasoning.planner import Planner


def random_answers(rng, rules, most=5):
    names = rng.sample(list(rules.findings), rng.randint(1, min(most, len(rules.findings))))
    out = []
    for name in names:
        size = len(rules.findings[name].answers)
        here = rng.randrange(size)
        sure = rng.choice([1.0, 0.85])
        rest = (1 - sure) / (size - 1)
        out.append(Observation(name, tuple(sure if n == here else rest for n in range(size))))
    return tuple(out)


def random_case(rng, rules, epochs=1):
    last = Epoch(random_answers(rng, rules))
    first = [
        Epoch(
            random_answers(rng, rules),
            Treatment({rng.choice(list(rules.causes)): 0.9}, {}, (0.0, 0.0, 1.0, 0.0)),
        )
        for _ in range(epochs - 1)
    ]
    return Evidence("trouble", {}, (*first, last))


def logit(p):
    return math.log(p) - math.log1p(-p)


# --- weights ------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(30))
def test_weights_sum_to_the_change_of_log_odds(seed):
    """Within every epoch, for every cause, in decibans."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    evidence = random_case(rng, rules, epochs=rng.randint(1, 3))
    net = Network(rules, Machine(), "trouble")
    for c in net.causes:
        got = weights(net, evidence, c)
        for number, epoch in enumerate(evidence.epochs):
            start, end = (
                posterior(net, replace(evidence, epochs=(*evidence.epochs[:number], last)))
                for last in (Epoch(), replace(epoch, treatment=None))
            )
            want = 10 / math.log(10) * (logit(end.present[c]) - logit(start.present[c]))
            total = math.fsum(w.decibans for w in got if w.epoch == number)
            assert total == pytest.approx(want, abs=1e-8), (c, number)


def contrast_rules():
    part = finding("f_part", "yes_no", {"yes": 0.2, "no": 0.8})
    whole = finding("f_whole", "yes_no", {"yes": 0.1, "no": 0.9}, replaces=["f_part"])
    other = finding("f_other", "yes_no", {"yes": 0.3, "no": 0.7})
    return rule_base(
        [
            cause("c_a", shows={"f_part": 0.9, "f_whole": 0.8, "f_other": 0.1}),
            cause("c_b", shows={"f_part": 0.1, "f_other": 0.9}),
        ],
        [part, whole, other],
        [action("look", reveals=["f_part", "f_whole", "f_other"])],
    )


def test_a_replaced_observation_has_no_weight():
    """It is left out, and the others weigh what they weigh without it, wherever it stood."""
    net = Network(contrast_rules(), Machine(), "trouble")
    without = weights(net, observed(net, [("f_whole", "yes"), ("f_other", "no")]), "c_a")
    assert [w.finding for w in without] == ["f_whole", "f_other"]
    for place in range(3):
        answers = [("f_whole", "yes"), ("f_other", "no")]
        answers.insert(place, ("f_part", "yes"))
        assert weights(net, observed(net, answers), "c_a") == without


def test_the_decibans_of_one_yes_no_finding_by_hand():
    """0.72 for the one cause, 0.18 for nothing wrong, 0.10 unlisted; P(yes) 0.9, 0.1 and the mean.

    The mean over what is listed is 0.2 x 0.1 + 0.8 x 0.9 = 0.74, so that without the cause P(yes)
    is (0.18 x 0.1 + 0.10 x 0.74)/0.28, and P(no) is one minus that.
    """
    rules = rule_base(
        [cause("c_a", shows={"f_x": 0.9})],
        [finding("f_x", "yes_no", {"yes": 0.1, "no": 0.9})],
        complaints=[complaint(normal_share=0.2, unlisted_share=0.1)],
    )
    net = Network(rules, Machine(), "trouble")
    assert posterior(net, observed(net)).present["c_a"] == pytest.approx(0.72, abs=1e-12)
    otherwise = (0.018 + 0.074) / 0.28
    for answer, ratio in (("yes", 0.9 / otherwise), ("no", 0.1 / (1 - otherwise))):
        (got,) = weights(net, observed(net, {"f_x": answer}), "c_a")
        assert (got.epoch, got.finding) == (0, "f_x")
        assert got.decibans == pytest.approx(10 * math.log10(ratio), abs=1e-9)


def test_the_second_of_two_that_say_the_same_adds_less():
    """Two findings that one mistake would spoil: the weight is given in the journal's order."""
    findings = [finding(f, "yes_no", {"yes": 0.05, "no": 0.95}) for f in ("f_x", "f_y")]
    rules = rule_base(
        [cause("c_a", shows={"f_x": 0.9, "f_y": 0.9}), cause("c_b")],
        findings,
        groups=[group("g_a", ["f_x", "f_y"], 0.3)],
    )
    net = Network(rules, Machine(), "trouble")
    for order in (("f_x", "f_y"), ("f_y", "f_x")):
        got = weights(net, observed(net, [(f, "yes") for f in order]), "c_a")
        assert [w.finding for w in got] == list(order)
        assert got[0].decibans > got[1].decibans > 0


@pytest.mark.parametrize(
    ("decibans", "words"),
    [
        (0.5, "says little"),
        (-0.99, "says little"),
        (2.0, "speaks slightly for"),
        (-4.0, "speaks against"),
        (6.9, "speaks for"),
        (-12.0, "speaks strongly against"),
    ],
)
def test_in_words(decibans, words):
    assert in_words(decibans) == words


# --- overturn -----------------------------------------------------------------------------------


def with_a_look(rules):
    """The rules with one action that reveals every finding."""
    look = action("look", reveals=list(rules.findings))
    return rules.model_copy(update={"actions": {"look": look}})


def lead_of(planner, belief):
    names = ("nothing_wrong", "unlisted", *planner.net.causes)
    return names[int(np.argmax(planner.weights(belief)))]


def entered(rules, evidence, name, answer):
    """The evidence with one more answer in its last epoch."""
    seen = Observation(name, tuple(float(a == answer) for a in rules.findings[name].answers))
    *before, last = evidence.epochs
    last = replace(last, observations=(*last.observations, seen))
    return replace(evidence, epochs=(*before, last))


def test_overturn_really_overturns():
    """On random rules (pairs, shared mistakes, contrasts): entering the answer changes the lead."""
    found = 0
    for seed in range(300):
        rng = random.Random(seed)
        rules = with_a_look(random_rules(rng))
        evidence = random_case(rng, rules, epochs=rng.randint(1, 2))
        planner = Planner(Network(rules, Machine(), "trouble"), Machine())
        belief = posterior(planner.net, evidence)
        answered = frozenset(o.finding for o in evidence.epochs[-1].observations)
        got = overturn(planner, belief, evidence, answered)
        if got is None:
            continue
        found += 1
        assert got.finding not in answered
        after = posterior(planner.net, entered(rules, evidence, got.finding, got.answer))
        assert lead_of(planner, after) == got.then
        assert got.then not in (lead_of(planner, belief), "unlisted")
    assert found > 30


def single_fault_rules(rng):
    """Causes that all bear on the complaint, findings that stand for themselves."""
    findings = [random_finding(rng, f"f_{n}") for n in range(6)]
    causes = [
        cause(
            f"c_{n}",
            share=rng.uniform(0.5, 10.0),
            strength=rng.uniform(0.2, 0.9),
            shows={f.id: shares(rng, list(f.answers)) for f in findings if rng.random() < 0.7},
        )
        for n in range(4)
    ]
    return with_a_look(rule_base(causes, findings))


def test_nothing_likelier_overturns():
    """With single faults, by trying every answer: its chance is right and no likelier one does."""
    found = 0
    for seed in range(60):
        rng = random.Random(seed)
        rules = single_fault_rules(rng)
        evidence = random_case(rng, rules)
        planner = Planner(Network(rules, Machine(), "trouble", 1), Machine())
        belief = posterior(planner.net, evidence)
        lead = lead_of(planner, belief)
        answered = frozenset(o.finding for o in evidence.epochs[0].observations)
        tried = []
        for name in rules.findings:
            if name in answered:
                continue
            for answer in rules.findings[name].answers:
                after = posterior(planner.net, entered(rules, evidence, name, answer))
                new = lead_of(planner, after)
                chance = math.exp(after.log_evidence - belief.log_evidence)
                if new not in (lead, "unlisted"):
                    tried.append((chance, name, answer, new))
        got = overturn(planner, belief, evidence, answered)
        if not tried:
            assert got is None
            continue
        found += 1
        chance, name, answer, new = max(tried)
        assert (got.finding, got.answer, got.then) == (name, answer, new)
        assert got.chance == pytest.approx(chance, rel=1e-9)
    assert found > 30


def test_what_is_alike_does_not_count():
    """Two causes with the same remedy: going over to the other is no change of the verdict."""
    rules = with_a_look(
        rule_base(
            [
                cause("c_a", 3.0, shows={"f_x": 0.2}),
                cause("c_b", 2.0, shows={"f_x": 0.8}),
            ],
            [finding("f_x", "yes_no", {"yes": 0.2, "no": 0.8})],
        )
    )
    planner = Planner(Network(rules, Machine(), "trouble"), Machine())
    evidence = Evidence("trouble")
    belief = posterior(planner.net, evidence)
    got = overturn(planner, belief, evidence, frozenset())
    assert (got.finding, got.answer, got.then) == ("f_x", "yes", "c_b")
    assert overturn(planner, belief, evidence, frozenset(), frozenset({"c_b"})) is None
    assert overturn(planner, belief, evidence, frozenset({"f_x"})) is None


def test_a_replaced_finding_cannot_overturn():
    """Once the contrast is known, what it was computed from says nothing more."""
    rules = contrast_rules()
    planner = Planner(Network(rules, Machine(), "trouble"), Machine())
    evidence = observed(planner.net, {"f_whole": "yes", "f_other": "yes"})
    belief = posterior(planner.net, evidence)
    answered = frozenset({"f_whole", "f_other"})
    assert overturn(planner, belief, evidence, answered) is None


# --- conflict -----------------------------------------------------------------------------------


def test_one_observation_is_in_no_conflict():
    """Nor are two epochs with one each, nor no observation at all."""
    net = Network(contrast_rules(), Machine(), "trouble")
    nothing = Treatment({}, {}, None)
    yes, no = (observation(net, "f_other", a) for a in ("yes", "no"))
    for epochs in ((Epoch(),), (Epoch((yes,)),), (Epoch((yes,), nothing), Epoch((no,)))):
        got = conflict(net, Evidence("trouble", {}, epochs))
        assert (got.bits, got.pair, got.pair_bits) == (0.0, None, 0.0)


def bits(net, evidence, chosen):
    """log2(prod P(e_i)/P(all)) of these observations of the last epoch."""

    def log_p(observations):
        epochs = (*evidence.epochs[:-1], Epoch(tuple(observations)))
        return posterior(net, replace(evidence, epochs=epochs)).log_evidence

    ground = log_p([])
    apart = sum(log_p([s]) - ground for s in chosen)
    return (apart - (log_p(chosen) - ground)) / math.log(2)


@pytest.mark.parametrize("seed", range(40))
def test_conflict_by_brute_force_in_any_order(seed):
    """The whole, and the pair that clashes most, over all orders of the answers."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    rules = rules.model_copy(
        update={
            "findings": {
                name: f.model_copy(update={"replaces": []}) for name, f in rules.findings.items()
            }
        }
    )
    evidence = random_case(rng, rules, epochs=rng.randint(1, 2))
    net = Network(rules, Machine(), "trouble")
    seen = evidence.epochs[-1].observations
    if len(seen) < 2:
        evidence = Evidence("trouble", {}, (Epoch(seen),))
    want = bits(net, evidence, seen) if len(seen) > 1 else 0.0
    pairs = {frozenset((a.finding, b.finding)): (a, b) for a, b in itertools.combinations(seen, 2)}
    clashes = {names: bits(net, evidence, pair) for names, pair in pairs.items()}
    for _ in range(3):
        shuffled = Epoch(tuple(rng.sample(seen, len(seen))))
        got = conflict(net, replace(evidence, epochs=(*evidence.epochs[:-1], shuffled)))
        assert got.bits == pytest.approx(want, abs=1e-9)
        if got.bits <= 0:
            assert got.pair is None
            continue
        assert got.pair_bits == pytest.approx(max(clashes.values()), abs=1e-9)
        assert clashes[frozenset(got.pair)] == pytest.approx(got.pair_bits, abs=1e-9)


def signs():
    """Causes A and B; f_1 and f_2 are signs of A, f_3 is one of B, f_4 says nothing of either."""
    b = {"yes": 0.05, "no": 0.95}
    say_yes = {"yes": 0.9, "no": 0.1}
    say_no = {"yes": 0.01, "no": 0.99}
    ab, ba = {"c_a": say_yes, "c_b": say_no}, {"c_a": say_no, "c_b": say_yes}
    return causes_and_findings(
        {"c_a": 0.1, "c_b": 0.1},
        {
            "f_1": ("yes_no", b, ab),
            "f_2": ("yes_no", b, ab),
            "f_3": ("yes_no", b, ba),
            "f_4": ("yes_no", b, {}),
        },
        most=1,
    )


def test_agreeing_observations_are_not_in_conflict():
    """Two signs of one cause are likelier together; a sign and an idle finding just as likely."""
    net = signs()
    assert conflict(net, observed(net, {"f_1": "yes", "f_2": "yes"})).bits < -1
    for answer in ("yes", "no"):
        got = conflict(net, observed(net, {"f_1": "yes", "f_4": answer}))
        assert got.bits == pytest.approx(0.0, abs=1e-7)


def test_conflict_by_hand():
    """Weights 0.8, 0.1, 0.1 (odds of 1/9 each against one): P(f_1), P(f_3), P(f_1, f_3)."""
    net = signs()
    w = [x / (1 + 2 / 9) for x in (1, 1 / 9, 1 / 9)]
    one = w[0] * 0.05 + w[1] * 0.9 + w[2] * 0.01
    both = w[0] * 0.05 * 0.05 + 2 * w[1] * 0.9 * 0.01
    got = conflict(net, observed(net, {"f_1": "yes", "f_3": "yes"}))
    assert got.bits == pytest.approx(math.log2(one * one / both), abs=1e-6)
    assert got.bits > 0.5
    assert got.pair == ("f_1", "f_3")
    assert got.pair_bits == got.bits


def test_the_pair_that_clashes_most_is_named():
    """A sign of A beside a sign of B, among findings that say nothing."""
    net = signs()
    for order in itertools.permutations(["f_1", "f_3", "f_4"]):
        got = conflict(net, observed(net, [(f, "yes") for f in order]))
        assert set(got.pair) == {"f_1", "f_3"}


def test_a_replaced_observation_takes_no_part_in_the_conflict():
    """Neither in the sum nor in the pair nor in the choice of the epoch."""
    net = Network(contrast_rules(), Machine(), "trouble")
    answers = [("f_whole", "yes"), ("f_other", "yes")]
    without = conflict(net, observed(net, answers))
    assert without.bits > 0
    for place in range(3):
        more = list(answers)
        more.insert(place, ("f_part", "no"))
        assert conflict(net, observed(net, more)) == without
    alone = conflict(net, observed(net, [("f_part", "no"), ("f_whole", "yes")]))
    assert (alone.bits, alone.pair) == (0.0, None)


# --- long cases ---------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [3, 12])
def test_what_was_done_is_gone_through_once(number, monkeypatch):
    """Each treatment is worked out once, not once more for each observation or answer after it."""
    rules = random_rules(random.Random(3))
    net, evidence = (
        Network(rules, Machine(), "trouble"),
        random_case(random.Random(3), rules, number),
    )
    planner, done = Planner(net, Machine()), []
    belief = posterior(net, evidence)
    treat = beliefs._treat
    monkeypatch.setattr(beliefs, "_treat", lambda *given: done.append(1) or treat(*given))
    for asked in (
        lambda: weights(net, evidence, net.causes[0]),
        lambda: conflict(net, evidence),
        lambda: overturn(planner, belief, evidence, frozenset()),
    ):
        done.clear()
        asked()
        assert 0 < len(done) < number
