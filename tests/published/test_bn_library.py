"""The posterior against a general-purpose Bayesian-network library (pgmpy, variable elimination).

Each case is a random part of the shipped rules written out as an ordinary Bayesian network, with
every conditional probability table built here from the definitions:

* causes are binary roots, but for the hypothesis "unlisted", a root that excludes them all;
* the complaint is a noisy-OR of the causes with a leak (false alarms): Pearl 1988, "Probabilistic
  Reasoning in Intelligent Systems", section 4.3.2; Henrion 1989, "Some practical issues in
  constructing belief networks";
* graded findings are a noisy-MAX: Diez 1993, "Parameter adjustment in Bayes networks: the
  generalized noisy OR-gate"; here the background is heard only when no cause speaks;
* findings that one mistake would spoil together share a binary root "this group misleads";
* a report that is less than certain is a child of its finding (virtual evidence: Pearl 1988,
  section 2.2.2).

All sets of the chosen causes are hypotheses on both sides, so nothing is left out.
"""

import itertools
import logging
import math
import random

import numpy as np
import pytest
from pgmpy.factors.discrete import TabularCPD
from pgmpy.inference import VariableElimination
from pgmpy.models import DiscreteBayesianNetwork

from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.reasoning.belief import Epoch, Evidence, Network, Observation, posterior

CASES = 200
TOLERANCE = 1e-9
MOST_PARENTS = 8
UNLISTED, COMPLAINT = "unlisted", "complaint"


@pytest.fixture(scope="module")
def shipped():
    rules = load()
    assert rules.rows
    return rules


@pytest.fixture(autouse=True)
def quiet():
    logging.getLogger("pgmpy").setLevel(logging.ERROR)


# --- the tables, from the definitions -----------------------------------------------------------


def split(q, b):
    """(l, r): the cause speaks with chance l and then imposes r; q = (1 - l) b + l r."""
    quiet = float(np.min(q / b))
    loud = 1.0 - quiet
    return (0.0, b) if loud < 1e-12 else (loud, (q - quiet * b) / loud)


def noisy_max(rows, b):
    """One cause after the other: `silent` while none has spoken, `worst` over what was said."""
    silent, worst = 1.0, np.zeros(len(b))
    for q in rows:
        loud, r = split(q, b)
        spoken = np.array(
            [
                (1 - loud) * worst[a]
                + loud * (worst[a] * r[: a + 1].sum() + r[a] * worst[:a].sum() + silent * r[a])
                for a in range(len(b))
            ]
        )
        silent, worst = silent * (1 - loud), spoken
    return worst + silent * b


def one_is_heard(rows, b):
    """If any cause speaks, one is heard, with a chance in proportion to its l."""
    splits = [split(q, b) for q in rows]
    total = sum(loud for loud, _ in splits)
    silent = math.prod(1.0 - loud for loud, _ in splits)
    if total == 0:
        return b
    return silent * b + (1.0 - silent) * sum(loud / total * r for loud, r in splits)


def all_must_go(rows, b):
    """Gone only if gone for every cause, the same only if the same for every cause."""
    if not rows:
        return b
    gone = math.prod(q[0] for q in rows)
    if len(b) == 2:
        return np.array([gone, 1.0 - gone])
    same = math.prod(q[-1] for q in rows)
    return np.array([gone, 1.0 - gone - same, same])


COMBINE = {"graded": noisy_max, "cure_test": all_must_go}


class Case:
    """A part of the rules, what was seen, and the Bayesian network that says the same."""

    def __init__(self, shipped, seed):
        rng = random.Random(seed)
        self.complaint = rng.choice(list(shipped.complaints))
        size = 10 if seed % 8 == 0 else rng.randint(2, 6)
        raising = [c.id for c in shipped.causes.values() if self.complaint in c.complaints]
        causes = rng.sample(raising, min(len(raising), size - 1))
        rest = [c for c in shipped.causes if c not in causes]
        self.causes = causes + rng.sample(rest, size - len(causes))
        speaks = {f: [c for c in self.causes if (c, f) in shipped.rows] for f in shipped.findings}
        usable = [f for f, who in speaks.items() if 0 < len(who) <= MOST_PARENTS]
        grouped = [f for g in shipped.groups.values() for f in g.findings if f in usable]
        names = rng.sample(grouped, min(len(grouped), rng.randint(0, 4)))
        others = [f for f in usable if f not in names]
        names += rng.sample(others, min(len(others), rng.randint(2, 9)))
        self.rules = shipped.model_copy(
            update={
                "causes": {c: shipped.causes[c] for c in self.causes},
                "findings": {f: shipped.findings[f] for f in names},
            }
        )
        self.odds = {c: rng.uniform(0.1, 15.0) for c in self.causes if rng.random() < 0.2}
        self.told = {f: self._report(rng, len(shipped.findings[f].answers)) for f in names}
        silent = {r for f in names for r in shipped.findings[f].replaces}
        self.seen = {f: report for f, report in self.told.items() if f not in silent}
        self.speaks = {f: speaks[f] for f in self.seen}
        self.group = {f: g for g in shipped.groups.values() for f in g.findings if f in self.seen}
        self._numbers()

    @staticmethod
    def _report(rng, size):
        here = rng.randrange(size)
        if rng.random() < 0.5:
            return tuple(float(n == here) for n in range(size))
        return tuple(0.85 if n == here else 0.15 / (size - 1) for n in range(size))

    def _numbers(self):
        """False alarms, the weight of unlisted and every finding's mean over the hypotheses.

        The false-alarm rate x is what makes "nothing wrong" the stated share of the complaints:
        x/(x + (1 - x) A + x (Z - 1)) with A = sum of the sets' weights times their own chance to
        raise it, Z = the sum of all weights; solved for x.
        """
        rules, entry = self.rules, self.rules.complaints[self.complaint]
        self.rate_odds = {}
        for c in self.causes:
            common = Machine().chance(rules.causes[c].machine)
            rate = rules.causes[c].share * common * rules.settings.presence_per_share
            self.rate_odds[c] = rate / (1 - rate)
        self.strength = {
            c: rules.causes[c].complaints.get(self.complaint, 0.0) for c in self.causes
        }
        sets = list(itertools.product((0, 1), repeat=len(self.causes)))
        on = np.array(sets, dtype=bool)
        weight = np.prod(np.where(on, list(self.rate_odds.values()), 1.0), axis=1)
        missed = np.prod(np.where(on, 1.0 - np.array(list(self.strength.values())), 1.0), axis=1)
        own, share = float(weight @ (1 - missed)), entry.normal_share
        self.alarm = share * own / (1 - share * (weight.sum() - own))
        assert 0 < self.alarm < 0.5
        joint = weight * (1 - (1 - self.alarm) * missed)
        self.unlisted = joint.sum() * entry.unlisted_share / (1 - entry.unlisted_share)
        self.answers, self.mean = {}, {}
        for f, who in self.speaks.items():
            finding = rules.findings[f]
            b = np.array([finding.background[a] for a in finding.answers])
            b = b / b.sum()
            rows = {c: np.array([rules.rows[c, f][a] for a in finding.answers]) for c in who}
            self.answers[f] = {
                present: COMBINE.get(finding.kind, one_is_heard)(
                    [rows[c] for c, here in zip(who, present, strict=True) if here], b
                )
                for present in itertools.product((0, 1), repeat=len(who))
            }
            at = [self.causes.index(c) for c in who]
            rows_of_sets = np.array([self.answers[f][tuple(s[i] for i in at)] for s in sets])
            self.mean[f] = joint @ rows_of_sets / joint.sum()

    def network(self):
        """The Bayesian network and its evidence."""
        net = DiscreteBayesianNetwork()
        tables, evidence = [], {COMPLAINT: 1}

        def add(name, parents, columns):
            values = np.array(columns).T
            net.add_node(name)
            net.add_edges_from([(p, name) for p in parents])
            tables.append(
                TabularCPD(name, len(values), values, parents, [sizes[p] for p in parents])
            )
            sizes[name] = len(values)

        sizes = {}
        odds = {c: x * self.odds.get(c, 1.0) for c, x in self.rate_odds.items()}
        normal = math.prod(1 + x for x in odds.values())
        u = self.unlisted / (self.unlisted + normal)
        add(UNLISTED, [], [[1 - u, u]])
        for c in self.causes:
            rate = odds[c] / (1 + odds[c])
            add(c, [UNLISTED], [[1 - rate, rate], [1.0, 0.0]])
        columns = []
        for unlisted, *present in itertools.product((0, 1), repeat=len(self.causes) + 1):
            missed = (1 - self.alarm) * math.prod(
                1 - self.strength[c] for c, here in zip(self.causes, present, strict=True) if here
            )
            columns.append([0.0, 1.0] if unlisted else [missed, 1 - missed])
        add(COMPLAINT, [UNLISTED, *self.causes], columns)
        for g in {g.id: g for g in self.group.values()}.values():
            add(f"misleads {g.id}", [], [[1 - g.chance, g.chance]])
        for f, who in self.speaks.items():
            parents = [UNLISTED, *who]
            if f in self.group:
                parents.insert(1, f"misleads {self.group[f].id}")
            columns = []
            for state in itertools.product((0, 1), repeat=len(parents)):
                present = state[len(parents) - len(who) :]
                lost = any(state[: len(parents) - len(who)])
                columns.append(self.mean[f] if lost else self.answers[f][present])
            add(f, parents, columns)
            report = self.seen[f]
            if max(report) == 1.0:
                evidence[f] = report.index(1.0)
            else:
                add(f"report {f}", [f], [[1 - p, p] for p in report])
                evidence[f"report {f}"] = 1
        net.add_cpds(*tables)
        return net, evidence


def referee(case):
    """P(unlisted, causes | evidence) over all their states, by variable elimination."""
    net, evidence = case.network()
    assert net.check_model()
    factor = VariableElimination(net).query(
        [UNLISTED, *case.causes], evidence=evidence, show_progress=False
    )
    order = [factor.variables.index(v) for v in (UNLISTED, *case.causes)]
    return np.transpose(factor.values, order)


@pytest.mark.first_quick(3)
@pytest.mark.parametrize("block", range(10))
def test_posteriors_agree_with_pgmpy(shipped, block):
    """Every set, every cause, "nothing wrong" and "unlisted" agree to 1e-9 on 200 networks."""
    for seed in range(block * CASES // 10, (block + 1) * CASES // 10):
        case = Case(shipped, seed)
        observations = tuple(Observation(f, report) for f, report in case.told.items())
        net = Network(case.rules, Machine(), case.complaint, max_faults=len(case.causes))
        got = posterior(net, Evidence(case.complaint, case.odds, (Epoch(observations),)))
        want = referee(case)
        near = {"abs": TOLERANCE, "rel": 0}
        assert got.unlisted == pytest.approx(want[1].sum(), **near), seed
        assert dict(got.sets)[()] == pytest.approx(want[(0,) * want.ndim], **near), seed
        for i, c in enumerate(case.causes):
            assert got.present[c] == pytest.approx(want[0].take(1, axis=i).sum(), **near), seed
        for names, p in got.sets:
            here = tuple(int(c in names) for c in case.causes)
            assert p == pytest.approx(want[(0, *here)], **near), seed


def test_the_networks_hold_what_they_should(shipped):
    """Among the 200 are shared mistakes, unsure reports, replaced findings and ten causes."""
    cases = [Case(shipped, seed) for seed in range(CASES)]
    assert sum(len(c.causes) == 10 for c in cases) == CASES // 8
    assert max(len(c.seen) for c in cases) >= 12
    shared = [c for c in cases if len(c.group) > len({g.id for g in c.group.values()})]
    assert len(shared) > 20
    assert sum(any(max(r) < 1 for r in c.seen.values()) for c in cases) > 100
    assert sum(bool(c.odds) for c in cases) > 50
    assert any(len(c.told) > len(c.seen) for c in cases)
