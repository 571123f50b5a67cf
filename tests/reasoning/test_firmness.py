"""Firmness: how often the verdict survives when the numbers of the rule base are shaken."""

import math
import random
from statistics import NormalDist

import pytest

from tests.reasoning.small import cause, complaint, finding, group, random_rules, rule_base
from tests.reasoning.test_explain import random_case
from tests.reasoning.two_level import observed
from troubleshoot.coater.machine import Machine
from troubleshoot.reasoning.belief import Epoch, Evidence, Network, Observation, Treatment
from troubleshoot.reasoning.firmness import FIRM, SIGMA, firmness

COPIES = 20_000


def two_causes(share=(2.0, 2.0), strength=(0.999, 0.999), shows=({}, {}), background=0.5):
    """A net of c_a and c_b, one fault at a time, with next to nothing for the other hypotheses."""
    rules = rule_base(
        [
            cause(name, x, s, shows=rows)
            for name, x, s, rows in zip(("c_a", "c_b"), share, strength, shows, strict=True)
        ],
        [finding("f_x", "yes_no", {"yes": background, "no": 1 - background})],
        complaints=[complaint(normal_share=1e-6, unlisted_share=1e-6)],
    )
    return Network(rules, Machine(), "trouble", 1)


def test_the_same_seed_gives_the_same_and_another_nearly():
    net = two_causes(share=(3.0, 2.0))
    evidence = Evidence("trouble")
    first = firmness(net, evidence)
    assert firmness(net, evidence) == first
    assert firmness(net, evidence, seed=1) == first
    others = [firmness(net, evidence, seed=n).share for n in range(2, 8)]
    assert len({first.share, *others}) > 1
    assert others == pytest.approx([first.share] * 6, abs=0.1)


def test_two_equal_causes_lead_half_of_the_time_each():
    got = firmness(two_causes(), Evidence("trouble"), copies=COPIES)
    assert got.share == pytest.approx(0.5, abs=4 * 0.5 / math.sqrt(COPIES))
    assert got.others == ((({"c_a", "c_b"} - {got.leader}).pop(), pytest.approx(1 - got.share)),)
    assert got.share < FIRM


def test_overwhelming_evidence_is_firm():
    """Ten signs of one cause that nothing else shows."""
    names = [f"f_{n}" for n in range(10)]
    rules = rule_base(
        [
            cause("c_a", shows=dict.fromkeys(names, 0.95)),
            cause("c_b", shows=dict.fromkeys(names, 0.03)),
        ],
        [finding(f, "yes_no", {"yes": 0.03, "no": 0.97}) for f in names],
    )
    net = Network(rules, Machine(), "trouble")
    got = firmness(net, observed(net, dict.fromkeys(names, "yes")))
    assert (got.leader, got.share, got.others) == ("c_a", 1.0, ())


@pytest.mark.parametrize(
    ("net", "answers", "noisy"),
    [
        # What is shaken, with the share of sigma^2 that each adds to the log-odds of A against B.
        pytest.param(two_causes(share=(2.24, 1.0)), {}, (1, 1), id="priors"),
        pytest.param(
            two_causes(share=(2.24, 1.0), strength=(0.02, 0.02)),
            {},
            (1, 1, 0.98**2, 0.98**2),
            id="priors and the strength of the complaint",
        ),
        pytest.param(
            two_causes(share=(1.12, 1.0), shows=({"f_x": 0.02}, {"f_x": 0.01})),
            {"f_x": "yes"},
            (1, 1, 0.98**2, 0.99**2),
            id="priors and links",
        ),
        pytest.param(
            two_causes(share=(1.12, 1.0), shows=({}, {"f_x": 0.01}), background=0.02),
            {"f_x": "yes"},
            (1, 1, 0.98**2, 0.99**2),
            id="priors, a link and a background",
        ),
    ],
)
def test_how_much_each_kind_of_number_is_shaken(net, answers, noisy):
    """A leads B by a factor R; with noise of variance v on ln R it stays ahead Phi(ln R/sqrt v).

    Noise of sigma on a log-odds is (1 - p) sigma on ln p. The tolerance is four standard errors
    and what the odds of about 0.001 in the numbers add; noise left out or doubled would show.
    """
    ratio = math.log(2.24)
    want = NormalDist().cdf(ratio / (SIGMA * math.sqrt(sum(noisy))))
    got = firmness(net, observed(net, answers), copies=COPIES)
    assert got.leader == "c_a"
    assert got.share == pytest.approx(want, abs=4 * math.sqrt(want * (1 - want) / COPIES) + 0.002)


@pytest.mark.parametrize("seed", range(25))
def test_without_noise_the_lead_never_changes(seed):
    """On random rules with remedies in between: sigma 0 gives 1."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    net = Network(rules, Machine(), "trouble")
    got = firmness(net, random_case(rng, rules, epochs=rng.randint(1, 3)), copies=20, sigma=0.0)
    assert (got.share, got.others) == (1.0, ())


@pytest.mark.parametrize("seed", range(25))
def test_shares_of_leaders(seed):
    """Between 0 and 1, at most 1 together, each a hypothesis, the leader not among the others."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    net = Network(rules, Machine(), "trouble")
    got = firmness(net, random_case(rng, rules), copies=200, sigma=2.0)
    names = [name for name, _ in got.others]
    assert 0 <= got.share + sum(p for _, p in got.others) <= 1 + 1e-12
    assert all(p > 0 for _, p in got.others)
    assert {got.leader, *names} <= {*net.causes, "nothing_wrong", "unlisted"}
    assert got.leader not in names
    assert len(set(names)) == len(names)


def test_more_noise_is_less_firm():
    net = two_causes(share=(6.0, 2.0))
    shares = [firmness(net, Evidence("trouble"), sigma=s).share for s in (0.1, 0.5, 1.0, 2.0)]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == 1.0
    assert shares[-1] < 0.8


def test_what_is_present_now_counts():
    """After a cure that was seen to work the cured cause leads no more."""
    net = two_causes(share=(20.0, 2.0), shows=({"f_x": 0.9}, {"f_x": 0.1}))
    yes = Observation("f_x", (1.0, 0.0))
    before = Evidence("trouble", {}, (Epoch((yes,)),))
    assert firmness(net, before).leader == "c_a"
    cured = Epoch((yes,), Treatment({"c_a": 0.95}, {}, (1.0, 0.0, 0.0, 0.0)))
    after = firmness(net, Evidence("trouble", {}, (cured, Epoch())))
    assert after.leader == "nothing_wrong"
    assert after.share > 0.9


def test_a_cure_test_beside_other_findings_of_one_mistake():
    """A group of both kinds: the cure test keeps its numbers in every copy."""
    rules = rule_base(
        [cause("c_a", shows={"f_x": 0.9, "f_y": {"gone": 0.8, "same": 0.2}}), cause("c_b")],
        [
            finding("f_x", "yes_no", {"yes": 0.1, "no": 0.9}),
            finding("f_y", "cure_test", {"gone": 0.1, "same": 0.9}),
        ],
        groups=[group("g_a", ["f_x", "f_y"])],
    )
    net = Network(rules, Machine(), "trouble")
    got = firmness(net, observed(net, {"f_x": "yes", "f_y": "gone"}))
    assert got.leader == "c_a"
    assert 0.8 < got.share <= 1


def test_unlisted_can_lead():
    """Four signs, two that only the one cause shows and two that only the other does."""
    names = [f"f_{n}" for n in range(4)]
    rules = rule_base(
        [
            cause("c_a", shows={f: 0.99 if n < 2 else 0.01 for n, f in enumerate(names)}),
            cause("c_b", shows={f: 0.99 if n > 1 else 0.01 for n, f in enumerate(names)}),
        ],
        [finding(f, "yes_no", {"yes": 0.01, "no": 0.99}) for f in names],
    )
    net = Network(rules, Machine(), "trouble", 1)
    got = firmness(net, observed(net, dict.fromkeys(names, "yes")))
    assert got.leader == "unlisted"
    assert got.share > 0.9
