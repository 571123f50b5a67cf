"""Published examples of inference, put through `belief`, `findings` and `explain`.

A Bayesian network fits our two levels exactly where its hidden nodes can be merged into one
hypothesis (a "set of faults") given which the findings are independent: `one_of`. Where a published
table holds a zero, ours holds 1e-12, and results are compared to 1e-9.

What does not fit, or is checked elsewhere:

* the printer network of 76 nodes ("win95pts"): many levels, no two-level form of sensible size;
* the car that does not start (Jensen and Nielsen): its numbers could not be read at the source;
* the multiplier and adder circuit (de Kleer and Williams 1987): consistency, not causes and
  findings;
* decisions (oil, used car, chest clinic, case base, order of repairs): `test_decision_examples`;
  the pigs of Lauritzen and Nilsson need a disease that comes by itself from month to month;
* scores: `tests/benchmarks/test_scores.py`; noisy-OR stress cases: `reasoning/test_referees.py`.
"""

import itertools
import math
from types import MappingProxyType

import numpy as np
import pytest

from tests.reasoning.two_level import (
    TINY,
    causes_and_findings,
    listed,
    observed,
    one_of,
)
from troubleshoot.reasoning.belief import posterior
from troubleshoot.reasoning.explain import conflict, weights


class Model:
    """States of which just one holds, the first being "nothing is wrong", and their findings."""

    def __init__(self, states, findings):
        self.first = next(iter(states))
        self.net = one_of(states, findings)

    def chance(self, answers, holds):
        """P(a state in which `holds` | answers)."""
        _, sets = listed(self.net, observed(self.net, answers))
        return math.fsum(p for names, p in sets.items() if holds(next(iter(names), self.first)))

    def expected(self, answers, finding):
        """P(yes | answers)."""
        whole, _ = listed(self.net, observed(self.net, answers))
        both, _ = listed(self.net, observed(self.net, {**answers, finding: "yes"}))
        return both / whole


def decibans(p, before):
    return 10 * math.log10(p / (1 - p) * (1 - before) / before)


class TestChestClinic:
    """Lauritzen and Spiegelhalter 1988, "Local computations with probabilities on graphical
    structures and their application to expert systems", JRSS B 50:157-224.

    States are (tuberculosis, lung cancer, bronchitis); the visit to Asia, smoking, X-ray and
    dyspnoea are independent given these. `joint` is the network as printed, enumerated.
    """

    names = ("asia", "smoke", "tub", "lung", "bronc", "xray", "dysp")

    @staticmethod
    def joint():
        for asia, smoke, tub, lung, bronc, xray, dysp in itertools.product((1, 0), repeat=7):
            either = tub or lung
            shade = 0.98 if either else 0.05
            short = ((0.1, 0.8), (0.7, 0.9))[either][bronc]
            p = 0.01 if asia else 0.99
            p *= 0.5
            p *= (0.01, 0.05)[asia] if tub else 1 - (0.01, 0.05)[asia]
            p *= (0.01, 0.10)[smoke] if lung else 1 - (0.01, 0.10)[smoke]
            p *= (0.30, 0.60)[smoke] if bronc else 1 - (0.30, 0.60)[smoke]
            p *= shade if xray else 1 - shade
            p *= short if dysp else 1 - short
            yield (asia, smoke, tub, lung, bronc, xray, dysp), p

    @pytest.fixture
    def p(self):
        """P(these nodes have these values), by enumeration; `either` is among the nodes."""
        cells = [
            (dict(zip(self.names, s, strict=True), either=s[2] or s[3]), p) for s, p in self.joint()
        ]

        def probability(**values):
            return math.fsum(p for s, p in cells if all(s[k] == v for k, v in values.items()))

        return probability

    @pytest.fixture
    def model(self, p):
        states = {
            f"s_{tub}{lung}{bronc}": {"tub": tub, "lung": lung, "bronc": bronc}
            for tub, lung, bronc in itertools.product((0, 1), repeat=3)
        }

        def given_state(node):
            return lambda s: p(**{node: 1}, **states[s]) / p(**states[s])

        findings = {node: given_state(node) for node in ("asia", "smoke", "xray", "dysp")}
        for name, place in (("tub", 2), ("lung", 3)):  # the illness itself, seen without fail
            findings[f"{name}_itself"] = lambda s, place=place: float(s[place] == "1")
        findings["either_itself"] = lambda s: float("1" in s[2:4])
        return Model({s: p(**values) for s, values in states.items()}, findings)

    @staticmethod
    def ill(place):
        return lambda state: state[2 + place] == "1"

    def test_before_anything_is_known(self, model):
        """Published: tuberculosis 0.0104, lung cancer 0.055, bronchitis 0.45."""
        got = [model.chance({}, self.ill(n)) for n in range(3)]
        assert got == pytest.approx([0.0104, 0.055, 0.45], abs=1e-12)

    def test_probability_of_the_evidence(self, model):
        """0.004501375 for a visit to Asia with dyspnoea (tests of the R package gRain)."""
        got, _ = listed(model.net, observed(model.net, {"asia": "yes", "dysp": "yes"}))
        assert got == pytest.approx(0.004501375, abs=1e-12)

    def test_after_asia_and_dyspnoea(self, model):
        """BUGS examples, volume 2, "Asia": means of 200,000 draws, good to about 0.001."""
        seen = {"asia": "yes", "dysp": "yes"}
        got = [model.chance(seen, self.ill(n)) for n in range(3)]
        got.append(model.chance(seen, lambda s: "1" in s[2:4]))
        got += [model.expected(seen, f) for f in ("smoke", "xray")]
        assert got == pytest.approx([0.088, 0.100, 0.811, 0.183, 0.627, 0.220], abs=2e-3)

    @pytest.mark.parametrize(
        "seen",
        [
            {"asia": 1, "dysp": 1},
            {"asia": 1, "dysp": 1, "xray": 1},
            {"asia": 1, "dysp": 1, "xray": 0},
            {"smoke": 1, "dysp": 0},
        ],
    )
    def test_agrees_with_the_joint_distribution(self, model, p, seen):
        answers = {f: "yes" if v else "no" for f, v in seen.items()}
        for n, node in enumerate(("tub", "lung", "bronc")):
            want = p(**seen, **{node: 1}) / p(**seen)
            assert model.chance(answers, self.ill(n)) == pytest.approx(want, rel=1e-12)

    @pytest.mark.parametrize(
        ("a", "b", "bits"),
        [
            (("asia", 1), ("dysp", 1), -0.0461),
            (("smoke", 0), ("lung", 1), 2.4594),
            (("xray", 1), ("dysp", 0), 0.6508),
            (("xray", 1), ("dysp", 1), -0.5556),
        ],
    )
    def test_conflict(self, model, p, a, b, bits):
        """log2(P(a) P(b)/P(a, b)): Jensen, Chamberlain, Nordahl and Jensen 1990."""
        pair = dict((a, b))
        want = math.log2(p(**dict([a])) * p(**dict([b])) / p(**pair))
        assert want == pytest.approx(bits, abs=5e-5)
        names = [(f"{n}_itself" if n == "lung" else n, "yes" if v else "no") for n, v in (a, b)]
        got = conflict(model.net, observed(model.net, names))
        assert got.bits == pytest.approx(want, abs=1e-7)
        assert got.pair == ((names[0][0], names[1][0]) if bits > 0 else None)

    def test_steps_of_the_odds_of_lung_cancer(self, model, p):
        """Weights of evidence as defined by Good 1950, taken from the joint distribution.

        -12.351 dB at first; smoking, dyspnoea and X-ray add 2.808, 1.952 and 11.772 dB.
        """
        answers, seen, steps, want = {}, {}, [], []
        before, was = model.chance(answers, self.ill(1)), p(lung=1)
        assert decibans(before, 0.5) == pytest.approx(-12.351, abs=5e-4)
        for f in ("smoke", "dysp", "xray"):
            answers[f], seen[f] = "yes", 1
            after, now = model.chance(answers, self.ill(1)), p(lung=1, **seen) / p(**seen)
            steps.append(decibans(after, before))
            want.append(decibans(now, was))
            before, was = after, now
        assert steps == pytest.approx(want, abs=1e-9)
        assert steps == pytest.approx([2.808, 1.952, 11.772], abs=5e-4)
        assert before == pytest.approx(0.7237, abs=5e-5)

    def test_weights_of_evidence(self, model, p):
        """The weights for a state are the steps of its log-odds in the joint distribution."""
        answers = [("smoke", "yes"), ("dysp", "yes"), ("xray", "yes")]
        for tub, lung, bronc in itertools.product((0, 1), repeat=3):
            state = {"tub": tub, "lung": lung, "bronc": bronc}
            if not any(state.values()):
                continue
            odds, seen = [], {}
            for name in (None, "smoke", "dysp", "xray"):
                seen |= {name: 1} if name else {}
                odds.append(p(**state, **seen) / (p(**seen) - p(**state, **seen)))
            got = [
                w.decibans
                for w in weights(model.net, observed(model.net, answers), f"s_{tub}{lung}{bronc}")
            ]
            assert got == pytest.approx(10 * np.diff(np.log10(odds)), abs=1e-6)

    @pytest.mark.parametrize(
        "impossible",
        [
            {"either_itself": "yes", "lung_itself": "no", "tub_itself": "no"},
            {"either_itself": "no", "lung_itself": "yes"},
        ],
    )
    def test_impossible_evidence_is_said(self, model, impossible):
        """P(evidence) = 0 in the network: https://github.com/pgmpy/pgmpy/issues/1595.

        Two general libraries gave ordinary-looking numbers for some nodes. Here every number is
        finite, the evidence is as unlikely as the model can say, and the conflict is great;
        "not in this rule base" takes over although it had next to nothing.
        """
        evidence = observed(model.net, impossible)
        got = posterior(model.net, evidence)
        assert all(math.isfinite(x) for x in (*got.present.values(), got.log_evidence))
        assert math.fsum(p for _, p in got.sets) + got.unlisted == pytest.approx(1, abs=1e-12)
        p, _ = listed(model.net, evidence)
        assert p < 10 * TINY
        assert got.unlisted > 0.9
        found = conflict(model.net, evidence)
        assert found.bits > 20
        assert set(found.pair) <= set(impossible)


class TestBurglarAlarm:
    """Russell and Norvig, "Artificial Intelligence: A Modern Approach", the alarm network; printed
    to three digits in the tests of https://github.com/aimacode/aima-python.
    """

    @pytest.fixture
    def model(self):
        rings = {"11": 0.95, "10": 0.94, "01": 0.29, "00": 0.001}
        states = {}
        for b, e, a in itertools.product((0, 1), repeat=3):
            p = (0.001 if b else 0.999) * (0.002 if e else 0.998)
            states[f"s_{b}{e}{a}"] = p * (rings[f"{b}{e}"] if a else 1 - rings[f"{b}{e}"])
        return Model(
            states,
            {
                "john": lambda s: 0.90 if s[4] == "1" else 0.05,
                "mary": lambda s: 0.70 if s[4] == "1" else 0.01,
            },
        )

    @pytest.mark.parametrize(
        ("seen", "burglary"),
        [
            ({"john": "yes", "mary": "yes"}, "0.284"),
            ({"john": "yes", "mary": "no"}, "0.00513"),
            ({"john": "no", "mary": "yes"}, "0.00688"),
            ({"john": "yes"}, "0.0163"),
            ({"mary": "yes"}, "0.0561"),
        ],
    )
    def test_burglary(self, model, seen, burglary):
        assert f"{model.chance(seen, lambda s: s[2] == '1'):.3g}" == burglary


class TestPrinter:
    """Pfeffer 2016, "Practical Probabilistic Programming", section 5.3, and the printed results in
    the tests of https://github.com/p2t2/figaro.

    States are (power, toner, paper, software, network, command), 324 of them. "Prints quickly" and
    the result are not independent given these, and are never asked together.
    """

    nodes = (
        {"on": 0.95, "off": 0.05},
        {"high": 0.7, "low": 0.2, "out": 0.1},
        {"smooth": 0.6, "uneven": 0.2, "jammed": 0.2},
        {"correct": 0.8, "glitchy": 0.15, "crashed": 0.05},
        {"up": 0.7, "intermittent": 0.2, "down": 0.1},
        {"right": 0.65, "wrong": 0.35},
    )

    @staticmethod
    def printer(state):
        power, toner, paper, *_ = state.split("_")
        if power == "off" or toner == "out":
            return "out"
        return "good" if (toner, paper) == ("high", "smooth") else "poor"

    @staticmethod
    def quick(state):
        *_, software, network, _ = state.split("_")
        if network == "down" or software == "crashed":
            return 0.0
        return 0.5 if network == "intermittent" or software == "glitchy" else 0.9

    def result(self, state):
        *_, software, network, command = state.split("_")
        zero, every = (0.01, 0.98) if command == "right" else (0.3, 0.1)
        if self.printer(state) == "out" or software == "crashed" or network == "down":
            zero, every = 1.0, 0.0
        quality = {"good": 0.95, "poor": 0.3, "out": 0.0}[self.printer(state)]
        excellent = every * self.quick(state) * quality
        return {"none": zero, "poor": 1 - zero - excellent, "excellent": excellent}

    @staticmethod
    def toner_low(state):
        power, toner, *_ = state.split("_")
        return {"high": 0.2, "low": 0.6, "out": 0.99}[toner] if power == "on" else 0.0

    @pytest.fixture
    def model(self):
        states = {
            "_".join(values): math.prod(n[v] for n, v in zip(self.nodes, values, strict=True))
            for values in itertools.product(*self.nodes)
        }
        return Model(
            states,
            {
                "result": self.result,
                "quickly": self.quick,
                "toner_low": self.toner_low,
                "printer": lambda s: {
                    x: float(self.printer(s) == x) for x in ("out", "poor", "good")
                },
                "network": lambda s: {x: float(s.split("_")[4] == x) for x in self.nodes[4]},
            },
        )

    @pytest.mark.parametrize(
        ("seen", "want"),
        [
            ({}, 0.95),
            ({"result": "poor"}, 1.0),
            ({"result": "none"}, 0.8573402523786461),
            ({"printer": "out"}, 0.6551724137931032),
            ({"printer": "out", "result": "none"}, 0.6551724137931033),
        ],
    )
    def test_power_on(self, model, seen, want):
        assert model.chance(seen, lambda s: s.startswith("on_")) == pytest.approx(want, abs=1e-9)

    @pytest.mark.parametrize(("seen", "want"), [({}, 0.399), ({"toner_low": "yes"}, 0.2339832869)])
    def test_printer_is_good(self, model, seen, want):
        got = model.chance(seen, lambda s: self.printer(s) == "good")
        assert got == pytest.approx(want, abs=1e-9)

    @pytest.mark.parametrize(
        ("seen", "want"),
        [
            ({}, 0.8),
            ({"network": "up"}, 0.8),
            ({"quickly": "no"}, 0.6197991391678623),
            ({"quickly": "no", "network": "up"}, 0.39024390243902435),
        ],
    )
    def test_software_is_correct(self, model, seen, want):
        got = model.chance(seen, lambda s: s.split("_")[3] == "correct")
        assert got == pytest.approx(want, abs=1e-9)


class TestWetGrass:
    """The classic four nodes, as printed at https://github.com/jsboige/CoursIA/issues/8081: 0.194
    for the sprinkler given wet grass and rain, 0.800 for clouds given rain.
    """

    @pytest.fixture
    def model(self):
        def weight(s, r, cloudy):
            on, rain = (0.1, 0.8) if cloudy else (0.5, 0.2)
            return 0.5 * (on if s else 1 - on) * (rain if r else 1 - rain)

        pairs = {f"s_{s}{r}": (s, r) for s, r in itertools.product((0, 1), repeat=2)}
        wet = {"s_00": 0.0, "s_10": 0.9, "s_01": 0.9, "s_11": 0.99}
        total = {x: weight(*sr, True) + weight(*sr, False) for x, sr in pairs.items()}
        return Model(
            total,
            {
                "wet": wet.__getitem__,
                "rain": lambda x: float(pairs[x][1]),
                "cloudy": lambda x: weight(*pairs[x], True) / total[x],
            },
        )

    def test_rain_explains_the_wet_grass_away(self, model):
        on = [
            model.chance(seen, lambda s: s[2] == "1")
            for seen in ({"wet": "yes"}, {"wet": "yes", "rain": "yes"})
        ]
        assert on[1] == pytest.approx(0.194, abs=5e-4)
        assert on[0] == pytest.approx(0.2781 / 0.6471, abs=1e-9)  # P(on, wet)/P(wet), by hand

    def test_clouds(self, model):
        assert model.expected({"rain": "yes"}, "cloudy") == pytest.approx(0.800, abs=1e-9)


class TestNoisyOr:
    """Printed tables of the noisy-OR, several causes at once."""

    @staticmethod
    def table(leak, weights):
        """P(yes | set) of one finding for every set of causes."""
        rows = {
            c: {"yes": 1 - (1 - leak) * (1 - w), "no": (1 - leak) * (1 - w)} for c, w in weights
        }
        b = {"yes": leak, "no": 1 - leak}
        net = causes_and_findings(dict.fromkeys(rows, 0.1), {"effect": ("yes_no", b, rows)})
        p = net.probabilities("effect", net.starts)[:, 0]
        n = len(rows)
        return {
            tuple(int(i in row) for i in range(n)): x for row, x in zip(net.starts, p, strict=True)
        }

    def test_fever_without_a_leak(self):
        """Russell and Norvig: inhibition 0.6 (cold), 0.2 (flu), 0.1 (malaria)."""
        got = self.table(TINY, [("cold", 0.4), ("flu", 0.8), ("malaria", 0.9)])
        assert got == pytest.approx(
            {
                (0, 0, 0): 0.0,
                (0, 0, 1): 0.9,
                (0, 1, 0): 0.8,
                (0, 1, 1): 0.98,
                (1, 0, 0): 0.4,
                (1, 0, 1): 0.94,
                (1, 1, 0): 0.88,
                (1, 1, 1): 0.988,
            },
            abs=1e-9,
        )

    def test_weights_that_leave_the_leak_out(self):
        """Leak 0.1, weights 0.8 and 0.6: a reading with the leak in it would give 0.9111 for both.

        https://www.bayesia.com/bayesialab/user-guide/panels/node-editor/probability-distributions/formula/discrete-probability-distributions
        """
        got = self.table(0.1, [("n_1", 0.8), ("n_2", 0.6)])
        want = {(0, 0): 0.1, (0, 1): 0.64, (1, 0): 0.82, (1, 1): 0.928}
        assert got == pytest.approx(want, abs=1e-12)


def test_one_test_of_one_illness():
    """Prior 0.14, sensitivity 0.9, specificity 0.93: 0.68 after a positive test.

    https://github.com/fkeidel/BayesNet, examples/disease_test
    """
    net = causes_and_findings(
        {"ill": 0.14},
        {"test": ("yes_no", {"yes": 0.07, "no": 0.93}, {"ill": {"yes": 0.9, "no": 0.1}})},
    )
    _, sets = listed(net, observed(net, {"test": "yes"}))
    assert sets[frozenset({"ill"})] == pytest.approx(0.68, abs=5e-3)
    assert sets[frozenset({"ill"})] == pytest.approx(0.126 / (0.126 + 0.0602), abs=1e-12)


class TestUnknownMachine:
    """Jaynes 2003, "Probability Theory", chapter 4: is it the bad machine A or the good one B, and
    when does a third hypothesis C of a millionth, under which 99 in 100 items are bad, wake up?

    Our own "not in this rule base" answers as the average hypothesis does and would not catch a run
    of bad items, which A explains well enough; so C is listed here.
    """

    prior = MappingProxyType({"b_b": 10 / 11, "a_a": 1 / 11, "c_c": 1e-6})
    bad = MappingProxyType({"b_b": 1 / 6, "a_a": 1 / 3, "c_c": 99 / 100})

    def items(self, *names):
        tells = {f"item_{n:02}": self.bad.__getitem__ for n in range(16)}
        return one_of({h: self.prior[h] for h in names}, tells)

    @pytest.mark.parametrize(("answer", "step"), [("yes", 3.0103), ("no", -0.9691)])
    def test_each_item_adds_the_same_decibels(self, answer, step):
        """10 log10 of 2 a bad item and of 4/5 a good one: about +3 and -1 dB, from -10 dB."""
        net = self.items("b_b", "a_a")
        evidence = observed(net, [(f, answer) for f in net.findings])
        got = [w.decibans for w in weights(net, evidence, "a_a")]
        assert got == pytest.approx([step] * 16, abs=5e-5)
        start = listed(net, observed(net))[1][frozenset({"a_a"})]
        assert decibans(start, 0.5) == pytest.approx(-10.0, abs=1e-6)

    @pytest.mark.parametrize(
        ("bad", "a", "b", "c"),
        [
            (4, 0.61506, 0.38441, 0.00053),
            (8, 0.90444, 0.03533, 0.06023),
            (10, 0.62610, 0.00611, 0.36779),
            (11, 0.36370, 0.00178, 0.63453),
            (16, 0.00247, 0.00000, 0.99753),
        ],
    )
    def test_a_run_of_bad_items_wakes_the_third(self, bad, a, b, c):
        """Own figures from Bayes' rule on Jaynes' inputs: C leads from the eleventh on."""
        net = self.items("b_b", "a_a", "c_c")
        _, sets = listed(net, observed(net, [(f, "yes") for f in net.findings[:bad]]))
        got = [sets[frozenset(s)] for s in ({"a_a"}, set(), {"c_c"})]
        assert got == pytest.approx([a, b, c], abs=1e-5)
