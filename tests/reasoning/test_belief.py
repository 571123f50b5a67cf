"""Belief against a slow oracle: dictionaries, full enumeration, no shortcuts.

The oracle below writes every path out: (set at the start, set after the first treatment, ...) with
its weight as a plain product, and knows nothing of arrays or logarithms.
"""

import itertools
import math
import random
from dataclasses import asdict, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.reasoning.combine import combined
from tests.reasoning.small import (
    KINDS,
    cause,
    complaint,
    finding,
    group,
    random_finding,
    random_rules,
    rule_base,
    subsets,
)
from troubleshoot.coater.fields import FACTS
from troubleshoot.coater.machine import Machine
from troubleshoot.knowledge.load import load
from troubleshoot.knowledge.model import RECHECK
from troubleshoot.reasoning import belief as beliefs
from troubleshoot.reasoning.belief import (
    Epoch,
    Evidence,
    Network,
    Observation,
    Treatment,
    capped_odds,
    posterior,
)

# --- the oracle ---------------------------------------------------------------------------------


def untold(where):
    """How common what a cause needs is, on a machine of which nothing was told."""
    named = {key: [v] if isinstance(v, str) else v for key, v in where.items()}
    return math.prod(
        math.fsum(FACTS[key].common[v] for v in values)
        for key, values in named.items()
        if FACTS[key].common
    )


class Oracle:
    """The belief model of the design, enumerated, on a machine of which nothing was told."""

    def __init__(self, rules, complaint, most):
        self.rules, self.complaint, self.most = rules, complaint, most
        self.sets = [frozenset(s) for s in subsets(rules.causes, most)]
        self.known = {}
        entry = rules.complaints[complaint]
        low, high = 0.0, 0.5
        for _ in range(200):  # P(nothing wrong | complaint) rises with the rate of false alarms
            self.alarm = (low + high) / 2
            empty = self.start(frozenset(), {})
            total = math.fsum(self.start(s, {}) for s in self.sets)
            low, high = (
                (self.alarm, high) if empty < entry.normal_share * total else (low, self.alarm)
            )
        self.alarm = high
        total = math.fsum(self.start(s, {}) for s in self.sets)
        self.unlisted = total * entry.unlisted_share / (1 - entry.unlisted_share)

    def raised(self, present):
        """P(complaint | set) by its causes alone."""
        return 1 - math.prod(
            1 - self.rules.causes[c].complaints.get(self.complaint, 0.0) for c in present
        )

    def start(self, present, odds):
        """Prior odds of the set times P(complaint | set)."""
        weight = self.alarm + (1 - self.alarm) * self.raised(present)
        for c in present:
            cause = self.rules.causes[c]
            rate = cause.share * untold(cause.machine) * self.rules.settings.presence_per_share
            weight *= rate / (1 - rate) * odds.get(c, 1.0)
        return weight

    def bearing(self, name, present):
        return frozenset(c for c in present if (c, name) in self.rules.rows)

    def answer(self, name, present):
        """P(answer | set) of a finding."""
        key = name, self.bearing(name, present)
        if key not in self.known:
            f = self.rules.findings[name]
            b = {a: p / sum(f.background.values()) for a, p in f.background.items()}
            rows = [self.rules.rows[c, name] for c in sorted(key[1])]
            self.known[key] = combined(f.kind, rows, {a: b[a] for a in f.answers})
        return self.known[key]

    def population(self, name):
        """Mean over all sets as the complaint comes in."""
        key = name, None
        if key not in self.known:
            weights = {s: self.start(s, {}) for s in self.sets}
            total = math.fsum(weights.values())
            self.known[key] = {
                a: math.fsum(w * self.answer(name, s)[a] for s, w in weights.items()) / total
                for a in self.rules.findings[name].answers
            }
        return self.known[key]

    def report(self, seen, probabilities):
        """P(what was reported) given the answers' probabilities."""
        answers = self.rules.findings[seen.finding].answers
        return math.fsum(
            p * probabilities[a] for a, p in zip(answers, seen.likelihood, strict=True)
        )

    def stuck(self, seen, before):
        """P(what was reported | the earlier report of the same finding is simply repeated)."""
        norm = math.fsum(before)
        return math.fsum(a / norm * p for a, p in zip(before, seen.likelihood, strict=True))

    def speaking(self, epoch):
        silent = {r for o in epoch.observations for r in self.rules.findings[o.finding].replaces}
        return [o for o in epoch.observations if o.finding not in silent]

    def epoch(self, epoch, path, last):
        """P(the observations of the epoch | path so far); `path` is None for unlisted."""
        sticky = self.rules.settings.sticky
        of = {f: g for g in self.rules.groups.values() for f in g.findings}
        result, groups = 1.0, {}
        for seen in self.speaking(epoch):
            name = seen.finding
            mean = self.report(seen, self.population(name))
            right = mean if path is None else self.report(seen, self.answer(name, path[-1]))
            if name in last:
                number, before = last[name]
                repeated = self.stuck(seen, before)
                mean = sticky * repeated + (1 - sticky) * mean
                if path is None:
                    right = mean
                elif self.bearing(name, path[number]) == self.bearing(name, path[-1]):
                    right = sticky * repeated + (1 - sticky) * right
            if name in of:
                a, b = groups.get(of[name].id, (1.0, 1.0))
                groups[of[name].id] = a * right, b * mean
            else:
                result *= right
        for name, (right, wrong) in groups.items():
            k = self.rules.groups[name].chance
            result *= (1 - k) * right + k * wrong
        return result

    def outcomes(self, treatment, present):
        """(set afterwards, probability), written out over what is cured and what is caused."""
        cures = {c: p for c, p in treatment.cures.items() if c in present}
        for cured in subsets(cures):
            p = math.prod(q if c in cured else 1 - q for c, q in cures.items())
            left = present - set(cured)
            adds = [(c, q) for c, q in treatment.may_cause.items() if c in self.rules.causes]
            yield from self.added(frozenset(left), p, adds)

    def added(self, present, p, adds):
        """What may be caused, one after the other, as long as the set has room."""
        if not adds:
            yield present, p
            return
        (cause, q), *rest = adds
        if cause in present or len(present) >= self.most:
            yield from self.added(present, p, rest)
            return
        yield from self.added(present, p * (1 - q), rest)
        yield from self.added(present | {cause}, p * q, rest)

    def recheck(self, report, before, now):
        """P(what was then seen of the complaint | set before, set now)."""
        had, has = self.raised(before), self.raised(now)
        told = {
            k: math.fsum(v[a] * p for a, p in zip(RECHECK, report, strict=True))
            for k, v in self.rules.settings.recheck.items()
        }
        if had <= 0 and has <= 0:
            return told["never_was"]
        if has > had + 1e-12:
            return told["more"]
        if has < had - 1e-12:
            return has / had * told["fewer"] + (1 - has / had) * told["gone"]
        bearing = [c for c in now if self.rules.causes[c].complaints.get(self.complaint)]
        hides = (
            self.rules.settings.intermittent_passes
            if all(self.rules.causes[c].intermittent for c in bearing)
            else 0.0
        )
        return hides * told["gone"] + (1 - hides) * told["same"]

    def paths(self, evidence):
        """[(path, weight)] and the weight of unlisted, nothing normalised."""
        paths = [((s,), self.start(s, evidence.odds)) for s in self.sets]
        unlisted = self.unlisted
        last = {}
        for number, epoch in enumerate(evidence.epochs):
            paths = [(path, w * self.epoch(epoch, path, last)) for path, w in paths]
            unlisted *= self.epoch(epoch, None, last)
            last = last | {o.finding: (number, o.likelihood) for o in epoch.observations}
            treatment = epoch.treatment
            if treatment is None:
                continue
            paths = [
                ((*path, now), w * p)
                for path, w in paths
                for now, p in self.outcomes(treatment, path[-1])
            ]
            if treatment.recheck is not None:
                paths = [
                    (path, w * self.recheck(treatment.recheck, path[-2], path[-1]))
                    for path, w in paths
                ]
                same = self.rules.settings.recheck["same"]
                unlisted *= math.fsum(
                    same[a] * p for a, p in zip(RECHECK, treatment.recheck, strict=True)
                )
        return paths, unlisted

    def posterior(self, evidence):
        paths, unlisted = self.paths(evidence)
        total = math.fsum(w for _, w in paths) + unlisted
        before = math.fsum(self.start(s, evidence.odds) for s in self.sets) + self.unlisted
        sets = {}
        for path, w in paths:
            sets[path[-1]] = sets.get(path[-1], 0.0) + w / total
        return {
            "present": {
                c: math.fsum(w for p, w in paths if c in p[-1]) / total for c in self.rules.causes
            },
            "start": {
                c: math.fsum(w for p, w in paths if c in p[0]) / total for c in self.rules.causes
            },
            "sets": sets,
            "nothing_wrong": sets.get(frozenset(), 0.0),
            "unlisted": unlisted / total,
            "log_evidence": math.log(total) - math.log(before),
        }


def agrees(rules, evidence, most, tolerance=1e-12):
    """The program's posterior and the oracle's, compared in every respect."""
    got = posterior(Network(rules, Machine(), evidence.complaint, most), evidence)
    want = Oracle(rules, evidence.complaint, most).posterior(evidence)
    near = {"abs": tolerance, "rel": 0}
    assert got.present == pytest.approx(want["present"], **near)
    assert got.present_at_start == pytest.approx(want["start"], **near)
    assert len({frozenset(s) for s, _ in got.sets}) == len(got.sets)
    assert {frozenset(s): p for s, p in got.sets} == pytest.approx(want["sets"], **near)
    assert dict(got.sets)[()] == pytest.approx(want["nothing_wrong"], **near)
    assert got.unlisted == pytest.approx(want["unlisted"], **near)
    assert got.log_evidence == pytest.approx(want["log_evidence"], rel=1e-12, abs=1e-12)
    return got


# --- random cases -------------------------------------------------------------------------------


def random_vector(rng, size):
    """An answer that is certain, fairly sure, or a soft reading."""
    here = rng.randrange(size)
    style = rng.randrange(3)
    if style == 0:
        return tuple(float(n == here) for n in range(size))
    if style == 1:
        return tuple(0.85 if n == here else 0.15 / (size - 1) for n in range(size))
    return tuple(rng.uniform(0.001, 1.0) for _ in range(size))


def random_evidence(rng, rules, complaint="trouble", most_epochs=3, most_observations=5):
    epochs = []
    count = rng.randint(1, most_epochs)
    for number in range(count):
        names = rng.sample(
            list(rules.findings), rng.randint(0, min(most_observations, len(rules.findings)))
        )
        observations = tuple(
            Observation(n, random_vector(rng, len(rules.findings[n].answers))) for n in names
        )
        epochs.append(
            Epoch(observations, random_treatment(rng, rules) if number < count - 1 else None)
        )
    odds = {c: rng.uniform(0.02, 20.0) for c in rules.causes if rng.random() < 0.3}
    return Evidence(complaint, odds, tuple(epochs))


def random_treatment(rng, rules):
    def some(chance):
        return {c: rng.uniform(0.02, 0.98) for c in rules.causes if rng.random() < chance}

    here = rng.randrange(4)
    recheck = rng.choice([None, *[tuple(float(n == here) for n in range(4))] * 3])
    return Treatment(some(0.5), some(0.2), recheck)


def sub_rules(rules, rng, complaint, n_causes, n_findings):
    """Some causes of the complaint and others, with findings that at least one has a say on."""
    raising = [c.id for c in rules.causes.values() if complaint in c.complaints]
    causes = rng.sample(raising, min(len(raising), n_causes - 1))
    causes += rng.sample([c for c in rules.causes if c not in causes], n_causes - len(causes))
    said = sorted({f for c, f in rules.rows if c in causes})
    findings = rng.sample(said, min(len(said), n_findings))
    if "load_contrast" in said and rng.random() < 0.5:
        findings = list(dict.fromkeys([*findings, "load_contrast", "base_empty"]))
    return rules.model_copy(
        update={
            "causes": {c: rules.causes[c] for c in causes},
            "findings": {f: rules.findings[f] for f in findings},
        }
    )


@pytest.fixture(scope="module")
def shipped():
    rules = load()
    assert rules.rows
    return rules


@pytest.mark.parametrize("seed", range(150))
def test_oracle_on_random_rule_bases(seed):
    """Posterior, sets, start, unlisted and evidence agree to 1e-12, all features mixed."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    agrees(rules, random_evidence(rng, rules), most=rng.choice([1, 2, 2, 3]))


@pytest.mark.parametrize("seed", range(40))
def test_oracle_on_the_shipped_rules(shipped, seed):
    """The same on random parts of the shipped rules, groups and replaced findings included."""
    rng = random.Random(1000 + seed)
    name = rng.choice(list(shipped.complaints))
    rules = sub_rules(shipped, rng, name, rng.randint(3, 6), rng.randint(3, 9))
    agrees(rules, random_evidence(rng, rules, name, most_observations=8), most=2)


@pytest.mark.parametrize("seed", range(10))
def test_oracle_with_the_shipped_remedies(shipped, seed):
    """Treatments taken from the shipped actions: what they cure and what they may cause."""
    rng = random.Random(2000 + seed)
    name = rng.choice(list(shipped.complaints))
    acts = [
        a
        for a in shipped.actions.values()
        if any(name in shipped.causes[c].complaints for c in a.cures)
    ]
    act = rng.choice([a for a in acts if a.may_cause] or acts)
    wanted = list(dict.fromkeys([*list(act.cures)[:4], *act.may_cause]))
    rules = sub_rules(shipped, rng, name, 3, 5)
    rules = rules.model_copy(
        update={"causes": {c: shipped.causes[c] for c in dict.fromkeys([*rules.causes, *wanted])}}
    )
    evidence = random_evidence(rng, rules, name, most_epochs=1)
    for seen in RECHECK:
        vector = tuple(float(a == seen) for a in RECHECK)
        first = replace(
            evidence.epochs[0],
            treatment=Treatment(
                {c: p for c, p in act.cures.items() if c in rules.causes}, act.may_cause, vector
            ),
        )
        agrees(rules, replace(evidence, epochs=(first, Epoch())), most=2)


# --- facts about the posterior ------------------------------------------------------------------


def same(a, b, tolerance=1e-12):
    assert a.present == pytest.approx(b.present, abs=tolerance, rel=0)
    assert a.present_at_start == pytest.approx(b.present_at_start, abs=tolerance, rel=0)
    assert a.nothing_wrong == pytest.approx(b.nothing_wrong, abs=tolerance, rel=0)
    assert a.unlisted == pytest.approx(b.unlisted, abs=tolerance, rel=0)


@pytest.mark.parametrize("seed", range(40))
def test_order_inside_an_epoch_does_not_matter(seed):
    """Any order of the answers of one epoch gives the same belief and the same evidence."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    evidence = random_evidence(rng, rules)
    shuffled = tuple(
        replace(e, observations=tuple(rng.sample(e.observations, len(e.observations))))
        for e in evidence.epochs
    )
    net = Network(rules, Machine(), "trouble")
    a, b = posterior(net, evidence), posterior(net, replace(evidence, epochs=shuffled))
    same(a, b)
    assert a.log_evidence == pytest.approx(b.log_evidence, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_an_irrelevant_finding_changes_nothing(kind):
    """A finding on which no cause has a say moves no probability; it only costs evidence."""
    rng = random.Random(kind)
    for _ in range(10):
        rules = random_rules(rng)
        idle = random_finding(rng, "f_idle", kind)
        more = rule_base(
            rules.causes.values(),
            [*rules.findings.values(), idle],
            groups=rules.groups.values(),
            complaints=rules.complaints.values(),
            **asdict(rules.settings),
        )
        evidence = random_evidence(rng, rules)
        vector = random_vector(rng, len(idle.answers))
        first = evidence.epochs[0]
        first = replace(first, observations=(*first.observations, Observation("f_idle", vector)))
        net = Network(more, Machine(), "trouble")
        with_idle = replace(evidence, epochs=(first, *evidence.epochs[1:]))
        a, b = posterior(net, evidence), posterior(net, with_idle)
        same(a, b)
        told = math.log(sum(p * q for p, q in zip(vector, idle.background.values(), strict=True)))
        assert b.log_evidence - a.log_evidence == pytest.approx(told, abs=1e-9)


@settings(max_examples=150, deadline=None)
@given(seed=st.integers(0, 2**32), most=st.integers(1, 3))
def test_never_raises_and_probabilities_are_in_range(seed, most):
    """Whatever is seen and done, every probability is one and the hypotheses sum to one."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    got = posterior(
        Network(rules, Machine(), "trouble", most), random_evidence(rng, rules, most_epochs=4)
    )
    numbers = [*got.present.values(), *got.present_at_start.values(), got.nothing_wrong]
    numbers += [got.unlisted, *(p for _, p in got.sets)]
    assert all(-1e-12 <= p <= 1 + 1e-12 for p in numbers)
    assert math.fsum(p for _, p in got.sets) + got.unlisted == pytest.approx(1.0, abs=1e-9)
    assert math.isfinite(got.log_evidence)
    for name, p in got.present.items():
        assert p == pytest.approx(math.fsum(q for s, q in got.sets if name in s), abs=1e-9)


@pytest.mark.parametrize("seed", range(20))
def test_evidence_of_all_answers_sums_to_one(seed):
    """exp(log_evidence) over every joint answer of two findings sums to 1: it is a probability."""
    rng = random.Random(seed)
    rules = random_rules(rng)
    one, two = "f_0", "f_1"
    alone = {f: rules.findings[f].model_copy(update={"replaces": []}) for f in (one, two)}
    net = Network(
        rules.model_copy(update={"findings": {**rules.findings, **alone}}), Machine(), "trouble"
    )
    sizes = [len(rules.findings[f].answers) for f in (one, two)]
    total = 0.0
    for a, b in itertools.product(range(sizes[0]), range(sizes[1])):
        epoch = Epoch(
            (
                Observation(one, tuple(float(n == a) for n in range(sizes[0]))),
                Observation(two, tuple(float(n == b) for n in range(sizes[1]))),
            )
        )
        total += math.exp(posterior(net, Evidence("trouble", {}, (epoch,))).log_evidence)
    assert total == pytest.approx(1.0, abs=1e-12)


def test_prior_shares_are_those_of_the_complaint():
    """With nothing observed, P(unlisted) and P(nothing wrong | listed) are the stated shares."""
    rules = rule_base(
        [cause("c_a", 3.0, 0.9), cause("c_b", 1.0, 0.5)],
        [],
        complaints=[complaint(normal_share=0.2, unlisted_share=0.15)],
    )
    got = posterior(Network(rules, Machine(), "trouble"), Evidence("trouble"))
    assert got.unlisted == pytest.approx(0.15, abs=1e-12)
    assert dict(got.sets)[()] == pytest.approx(0.2 * 0.85, abs=1e-12)
    assert got.log_evidence == pytest.approx(0.0, abs=1e-12)


def test_a_complaint_that_no_cause_raises():
    """Then nothing is wrong, or the cause is unlisted: no error, and the stated share of it."""
    rules = rule_base([cause("c_idle", 2.0, None)], [], complaints=[complaint(unlisted_share=0.3)])
    got = posterior(Network(rules, Machine(), "trouble"), Evidence("trouble"))
    assert got.unlisted == pytest.approx(0.3, abs=1e-12)
    assert dict(got.sets)[()] == pytest.approx(0.7 * (1 - 2.0 * 0.004), abs=1e-12)
    nobody = rule_base([], [], complaints=[complaint(unlisted_share=0.3)])
    got = posterior(Network(nobody, Machine(), "trouble"), Evidence("trouble"))
    assert dict(got.sets)[()] == pytest.approx(0.7, abs=1e-12)


def test_what_does_not_exist_on_the_machine_is_filtered_out():
    """A cause that the machine cannot have is no hypothesis; an unknown fact filters nothing."""
    rules = rule_base([cause("c_a"), cause("c_b", machine={"shutter": "yes"})], [])
    without = Network(rules, Machine(facts={"shutter": "no"}), "trouble")
    assert without.causes == ("c_a",)
    assert Network(rules, Machine(), "trouble").causes == ("c_a", "c_b")


def test_60_observations_do_not_underflow():
    """60 answers of probability 1e-2 a cause, three times over: finite, normalised, decided."""
    names = [f"f_{n}" for n in range(60)]
    rows = {n: {"a": 0.01, "b": 0.01, "c": 0.98} for n in names}
    findings = [finding(n, "choice", {"a": 0.3, "b": 0.3, "c": 0.4}) for n in names]
    rules = rule_base(
        [cause("c_a", shows=rows), cause("c_b")], findings, groups=[group("g_a", names[:5])]
    )
    net = Network(rules, Machine(), "trouble")
    epoch = Epoch(
        tuple(Observation(n, (1.0, 0.0, 0.0)) for n in names), Treatment({"c_b": 0.01}, {}, None)
    )
    got = posterior(net, Evidence("trouble", {}, (epoch, epoch, replace(epoch, treatment=None))))
    assert math.isfinite(got.log_evidence)
    assert math.fsum(p for _, p in got.sets) + got.unlisted == pytest.approx(1.0, abs=1e-12)
    assert got.present["c_b"] > 0.8 * (1 - got.unlisted)
    assert got.present["c_a"] < 1e-20


# --- treatments ---------------------------------------------------------------------------------


def two_causes(**more):
    f = finding("f_x", "yes_no", {"yes": 0.1, "no": 0.9})
    return rule_base(
        [
            cause("c_a", 3.0, 0.8, shows={"f_x": 0.9}, **more),
            cause("c_b", 2.0, 0.7),
            cause("c_idle", 2.0, None),
        ],
        [f],
    )


def seen(outcome):
    return tuple(float(a == outcome) for a in RECHECK)


YES = Observation("f_x", (1.0, 0.0))


def after(rules, *treatments, observations=(YES,)):
    epochs = [Epoch(observations if not n else (), t) for n, t in enumerate(treatments)]
    net = Network(rules, Machine(), "trouble")
    return posterior(net, Evidence("trouble", {}, (*epochs, Epoch())))


def test_cured_leaves_the_cause_gone_and_proves_it():
    """After "cured" the treated cause is almost surely gone, and more surely was the cause."""
    rules = two_causes()
    before = posterior(
        Network(rules, Machine(), "trouble"), Evidence("trouble", {}, (Epoch((YES,)),))
    )
    got = after(rules, Treatment({"c_a": 0.95}, {}, seen("cured")))
    assert got.present["c_a"] < 0.02
    assert got.present_at_start["c_a"] > before.present["c_a"]
    assert got.nothing_wrong > 0.8


def test_unchanged_speaks_against_the_treated_cause():
    """After "unchanged" the treated cause is less likely, now and at the start, than before."""
    rules = two_causes()
    before = posterior(
        Network(rules, Machine(), "trouble"), Evidence("trouble", {}, (Epoch((YES,)),))
    )
    got = after(rules, Treatment({"c_a": 0.95}, {}, seen("unchanged")))
    assert got.present["c_a"] < 0.3 * before.present["c_a"]
    assert got.present_at_start["c_a"] < before.present["c_a"]
    assert got.present["c_b"] > before.present["c_b"]
    assert got.unlisted > before.unlisted


def test_better_speaks_for_one_of_two_faults():
    """After "better" the pair gains on the treated cause alone, and its other half remains."""
    rules = two_causes()
    treatment = {"c_a": 0.95}

    def pair_to_single(outcome):
        got = Oracle(rules, "trouble", 2)
        paths, _ = got.paths(
            Evidence("trouble", {}, (Epoch((YES,), Treatment(treatment, {}, outcome)), Epoch()))
        )
        pair = sum(w for p, w in paths if p[0] == {"c_a", "c_b"})
        return pair / sum(w for p, w in paths if p[0] == {"c_a"})

    assert pair_to_single(seen("better")) > 3 * pair_to_single(None)
    got = after(rules, Treatment(treatment, {}, seen("better")))
    nothing_told = after(rules, Treatment(treatment, {}, None))
    assert got.present["c_b"] > nothing_told.present["c_b"]
    assert got.present["c_a"] < 0.2


def test_an_intermittent_cause_survives_cured():
    """ "Cured" after treating the wrong cause: an intermittent one may only have hidden."""
    treat_other = Treatment({"c_b": 0.95}, {}, seen("cured"))
    steady = after(two_causes(), treat_other)
    fickle = after(two_causes(intermittent=True), treat_other)
    assert fickle.present["c_a"] > 1.5 * steady.present["c_a"]


def test_a_bystander_does_not_keep_an_intermittent_cause_from_hiding():
    """A cause that does not raise the complaint has no part in whether the complaint hides."""
    rules = two_causes(intermittent=True)
    got = after(rules, Treatment({}, {}, seen("cured")))
    sets = {frozenset(s): p for s, p in got.sets}
    rate = 2.0 * rules.settings.presence_per_share
    ratio = sets[frozenset({"c_a", "c_idle"})] / sets[frozenset({"c_a"})]
    assert ratio == pytest.approx(rate / (1 - rate), rel=1e-12)


def test_refitting_may_cause_a_new_fault():
    """After "worse" the fault that the action may cause is likelier than its prior."""
    rules = two_causes()
    treat = Treatment({"c_b": 0.9}, {"c_a": 0.05}, seen("worse"))
    got = after(rules, treat, observations=())
    quiet = after(rules, replace(treat, may_cause={}), observations=())
    assert got.present["c_a"] > quiet.present["c_a"]
    assert got.present["c_a"] > got.present_at_start["c_a"]


def test_a_treatment_that_cures_nothing_here_moves_nothing():
    """Cures of causes that the network does not hold, without a recheck: the same belief."""
    rules = two_causes()
    same(
        after(rules, Treatment({"c_elsewhere": 0.9}, {"c_else": 0.1}, None)),
        posterior(Network(rules, Machine(), "trouble"), Evidence("trouble", {}, (Epoch((YES,)),))),
    )


def test_the_same_look_twice_counts_less_than_two_looks():
    """Repeating an answer in a later epoch with nothing changed adds less than the first look."""
    rules = two_causes()
    net = Network(rules, Machine(), "trouble")
    nothing = Treatment({}, {}, None)
    p = []
    for looks in (0, 1, 2):
        epochs = [Epoch((YES,), nothing)] * looks
        p.append(posterior(net, Evidence("trouble", {}, (*epochs, Epoch()))).present["c_a"])
    odds = [x / (1 - x) for x in p]
    assert 1 < odds[2] / odds[1] < odds[1] / odds[0]


def test_a_group_bounds_what_it_can_claim():
    """However many findings of a group agree, the odds move by less than ((1 - k) R + k)/k.

    R = prod p/mean is what they would move them by against a hypothesis that answers by the mean;
    against one that the findings all but rule out, k times the mean is what remains to it.
    """
    k, names = 0.1, [f"f_{n}" for n in range(8)]
    findings = [finding(n, "yes_no", {"yes": 0.05, "no": 0.95}) for n in names]
    causes = [
        cause("c_a", shows=dict.fromkeys(names, 0.98)),
        cause("c_b", shows=dict.fromkeys(names, 0.02)),
    ]
    rules = rule_base(causes, findings, groups=[group("g_a", names, k)])
    net = Network(rules, Machine(), "trouble", 1)
    epoch = Epoch(tuple(Observation(n, (1.0, 0.0)) for n in names))
    start = posterior(net, Evidence("trouble"))
    got = posterior(net, Evidence("trouble", {}, (epoch,)))
    moved = (got.present["c_a"] / got.present["c_b"]) / (
        start.present["c_a"] / start.present["c_b"]
    )
    right = math.prod(0.98 / net.population(n)[0] for n in names)
    assert moved <= ((1 - k) * right + k) / k
    free = Network(rule_base(causes, findings), Machine(), "trouble", 1)
    loose = posterior(free, Evidence("trouble", {}, (epoch,)))
    assert loose.present["c_a"] / loose.present["c_b"] > 1e6 * moved


def test_a_contrast_silences_what_it_was_computed_from():
    """In the same epoch the replaced finding says nothing more, whatever it was."""
    part = finding("f_part", "yes_no", {"yes": 0.2, "no": 0.8})
    whole = finding("f_whole", "yes_no", {"yes": 0.1, "no": 0.9}, replaces=["f_part"])
    rules = rule_base(
        [cause("c_a", shows={"f_part": 0.9, "f_whole": 0.8}), cause("c_b")], [part, whole]
    )
    net = Network(rules, Machine(), "trouble")
    contrast = Observation("f_whole", (1.0, 0.0))
    alone = posterior(net, Evidence("trouble", {}, (Epoch((contrast,)),)))
    for vector in ((1.0, 0.0), (0.0, 1.0)):
        both = Epoch((Observation("f_part", vector), contrast))
        same(alone, posterior(net, Evidence("trouble", {}, (both,))))


# --- circumstances ------------------------------------------------------------------------------


def test_circumstances_are_capped():
    """Factors multiply, up to `odds_cap_up` and down to 1/`odds_cap_down`."""
    rules = rule_base([cause("c_a"), cause("c_b"), cause("c_c")], [])
    factors = [{"c_a": 6.0, "c_b": 0.1}, {"c_a": 6.0, "c_b": 0.1, "c_c": 3.0}]
    got = capped_odds(rules, factors)
    assert got == pytest.approx({"c_a": 20.0, "c_b": 1 / 50, "c_c": 3.0})
    assert capped_odds(rules, []) == {}


def test_a_circumstance_multiplies_the_odds_of_its_cause():
    """With single faults only, the ratio of two causes moves by exactly the factor."""
    rules = two_causes()
    net = Network(rules, Machine(), "trouble", 1)
    a = posterior(net, Evidence("trouble"))
    b = posterior(net, Evidence("trouble", {"c_a": 5.0, "c_elsewhere": 9.0}))
    ratio = (b.present["c_a"] / b.present["c_b"]) / (a.present["c_a"] / a.present["c_b"])
    assert ratio == pytest.approx(5.0, rel=1e-12)


def test_pairs_are_close_to_triples(shipped):
    """On parts of the shipped rules, at most 2 faults or at most 3: mean difference below 0.01."""
    worst = []
    for seed in range(15):
        rng = random.Random(seed)
        name = rng.choice(list(shipped.complaints))
        rules = sub_rules(shipped, rng, name, 8, 6)
        evidence = random_evidence(rng, rules, name, most_epochs=1)
        evidence = replace(evidence, odds={})
        p = [posterior(Network(rules, Machine(), name, most), evidence).present for most in (2, 3)]
        worst += [abs(p[0][c] - p[1][c]) for c in rules.causes]
    assert math.fsum(worst) / len(worst) < 0.01


# --- long cases ---------------------------------------------------------------------------------


def many_remedies(rules, number, seed):
    """Evidence of a case in which `number` remedies were tried in vain, with a look before each."""
    rng = random.Random(seed)
    looks = ["base_loaded", "seal_look", "pump_sound", "hose_look", "oil_look", "curve_shape"]
    remedies = [a for a in rules.actions.values() if a.kind == "remedy" and a.cures]
    epochs = []
    for _ in range(number):
        finding = rules.findings[rng.choice(looks)]
        vector = [0.0] * len(finding.answers)
        vector[rng.randrange(len(vector))] = 1.0
        action = rng.choice(remedies)
        recheck = rng.choice([(0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0)])
        epochs.append(
            Epoch(
                (Observation(finding.id, tuple(vector)),),
                Treatment(action.cures, action.may_cause, recheck),
            )
        )
    return Evidence("slow_pump_down", {}, (*epochs, Epoch(())))


@pytest.mark.parametrize("seed", range(6))
def test_dropping_the_lightest_paths_changes_next_to_nothing(rules, monkeypatch, seed):
    """Against all paths, after ten remedies: no probability moves by more than 0.002."""
    net = Network(rules, Machine(), "slow_pump_down")
    evidence = many_remedies(rules, 10, seed)
    bounded = beliefs.posterior(net, evidence)
    monkeypatch.setattr(beliefs, "MOST_PATHS", 10**9)
    whole = beliefs.posterior(net, evidence)
    assert max(abs(bounded.present[c] - whole.present[c]) for c in whole.present) < 2e-3
    assert abs(bounded.nothing_wrong - whole.nothing_wrong) < 2e-3


@pytest.mark.slow
def test_a_case_of_two_hundred_remedies_stays_small(rules):
    """Paths and columns are bounded, so memory grows with the number of remedies only."""
    net = Network(rules, Machine(), "slow_pump_down")
    found = beliefs.paths(net, many_remedies(rules, 200, 1))
    assert len(found.log_weight) <= beliefs.MOST_PATHS
    assert max(sets.shape[1] for sets in found.epochs) <= net.max_faults
    trail = found.trail
    back = [*trail._sets, *(rows for far in trail._back for rows in far)]
    # Of each path the causes and, twice on average, the row it came from, in four bytes each.
    assert sum(kept.nbytes for kept in back) <= 201 * beliefs.MOST_PATHS * 4 * (net.max_faults + 2)


def test_only_so_much_of_what_findings_say_is_kept(rules):
    """A finding that comes up again after many others is worked out anew, and says the same."""
    net = Network(rules, Machine(), "slow_pump_down")
    first, *others = net.findings[: 2 * beliefs.SPOKEN]
    said = net.seen(first)
    for finding_ in others:
        net.seen(finding_)
        assert len(net._spoken) <= beliefs.SPOKEN
    assert (net.seen(first) == said).all()
