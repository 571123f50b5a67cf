"""Many badly explained findings and several faults at once, against exact rational arithmetic.

The textbook formula for noisy-OR networks of two levels sums over subsets of the positive findings
with alternating signs (Heckerman 1989, "A tractable inference algorithm for diagnosing multiple
diseases"); in floating point it loses every digit once the evidence is improbable enough. The
referee used here instead has only positive terms: it adds one cause after the other and keeps, for
every subset of the positive findings, the weight of "just these are explained by now".

Three judges, then: the definition enumerated in fractions (the truth), the coverage recursion in
floats (shows that floats suffice), inclusion-exclusion in floats (shows that the case is hard).
"""

import itertools
import math
import random
from dataclasses import dataclass
from fractions import Fraction

import pytest

from tests.reasoning.two_level import Number, causes_and_findings, listed, observed
from troubleshoot.reasoning.belief import Epoch, Evidence, Observation, posterior
from troubleshoot.reasoning.explain import conflict

RELATIVE = 1e-12


@dataclass(frozen=True)
class Stress:
    """Priors, leaks and links (leak left out) of yes/no findings, and whether each was seen."""

    priors: tuple[Number, ...]
    leaks: tuple[Number, ...]
    links: tuple[tuple[Number, ...], ...]  # [finding][cause]
    positive: tuple[bool, ...]

    def floats(self) -> "Stress":
        return Stress(
            tuple(map(float, self.priors)),
            tuple(map(float, self.leaks)),
            tuple(tuple(map(float, row)) for row in self.links),
            self.positive,
        )

    def network(self):
        findings = {}
        for j, (leak, row) in enumerate(zip(self.leaks, self.links, strict=True)):
            rows = {
                f"c_{i}": {"yes": 1 - (1 - leak) * (1 - w), "no": (1 - leak) * (1 - w)}
                for i, w in enumerate(row)
                if w
            }
            findings[f"f_{j}"] = "yes_no", {"yes": leak, "no": 1 - leak}, rows
        return causes_and_findings({f"c_{i}": p for i, p in enumerate(self.priors)}, findings)

    def answers(self):
        return [(f"f_{j}", "yes" if on else "no") for j, on in enumerate(self.positive)]


# --- three ways to P(evidence) and P(cause, evidence) ---------------------------------------------


def by_enumeration(case: Stress) -> list[Number]:
    """[P(e), P(cause 0, e), ...]: the definition, over all sets of causes."""
    out: list[Number] = [0] * (len(case.priors) + 1)
    for present in itertools.product((False, True), repeat=len(case.priors)):
        w = math.prod(p if on else 1 - p for p, on in zip(case.priors, present, strict=True))
        for leak, row, seen in zip(case.leaks, case.links, case.positive, strict=True):
            no = (1 - leak) * math.prod(1 - x for x, on in zip(row, present, strict=True) if on)
            w *= 1 - no if seen else no
        out[0] += w
        for i, on in enumerate(present):
            out[i + 1] += w if on else 0
    return out


def by_inclusion_exclusion(case: Stress) -> list[Number]:
    """P(e) = sum over S of (-1)^|S| P(S and all negative findings are absent)."""
    out: list[Number] = [0] * (len(case.priors) + 1)
    yes = [j for j, seen in enumerate(case.positive) if seen]
    no = [j for j, seen in enumerate(case.positive) if not seen]
    for size in range(len(yes) + 1):
        for chosen in itertools.combinations(yes, size):
            absent = [*no, *chosen]
            head = (-1) ** size * math.prod(1 - case.leaks[j] for j in absent)
            with_it = [
                p * math.prod(1 - case.links[j][i] for j in absent)
                for i, p in enumerate(case.priors)
            ]
            factors = [a + 1 - p for a, p in zip(with_it, case.priors, strict=True)]
            out[0] += head * math.prod(factors)
            for i, a in enumerate(with_it):
                rest = math.prod(f for k, f in enumerate(factors) if k != i)
                out[i + 1] += head * a * rest
    return out


def by_coverage(case: Stress) -> list[Number]:
    """The recursion over subsets of explained positive findings: nothing is ever subtracted."""
    yes = [j for j, seen in enumerate(case.positive) if seen]
    no = [j for j, seen in enumerate(case.positive) if not seen]

    def add(weight, chances):
        """Each finding not yet explained is explained by this cause with its own chance."""
        weight = list(weight)
        for bit, c in enumerate(chances):
            if not c:
                continue
            for s in range(len(weight)):
                if not s >> bit & 1:
                    weight[s | 1 << bit] += c * weight[s]
                    weight[s] *= 1 - c
        return weight

    def total(sure=None):
        weight = [0] * (1 << len(yes))
        weight[0] = math.prod(1 - case.leaks[j] for j in no)
        weight = add(weight, [case.leaks[j] for j in yes])
        for i, p in enumerate(case.priors):
            quiet = math.prod(1 - case.links[j][i] for j in no)
            there = add(weight, [case.links[j][i] for j in yes])
            away = 0 if i == sure else 1 - p
            weight = [away * old + p * quiet * new for old, new in zip(weight, there, strict=True)]
        return weight[-1]

    return [total(), *(total(i) for i in range(len(case.priors)))]


def posteriors(values: list[Number]) -> list[Number]:
    return [v / values[0] for v in values[1:]]


# --- cases ----------------------------------------------------------------------------------------


def ring(n: int, k: int, leak: str, prior: str) -> Stress:
    """n causes, k positive findings, finding j linked to cause j mod n with weight 0.7."""
    links = tuple(tuple(Fraction(7 * (j % n == i), 10) for i in range(n)) for j in range(k))
    return Stress((Fraction(prior),) * n, (Fraction(leak),) * k, links, (True,) * k)


def mesh(seed: int, n: int, yes: int, no: int) -> Stress:
    """Random rare causes and small leaks, each finding linked to two or three causes."""
    rng = random.Random(seed)
    links = []
    for _ in range(yes + no):
        linked = rng.sample(range(n), rng.randint(2, 3))
        links.append(tuple(Fraction(rng.randint(20, 95) * (i in linked), 100) for i in range(n)))
    return Stress(
        tuple(Fraction(rng.randint(5, 40), 10_000) for _ in range(n)),
        tuple(Fraction(rng.randint(2, 40), 10_000) for _ in range(yes + no)),
        tuple(links),
        (True,) * yes + (False,) * no,
    )


HARD = {  # inclusion-exclusion in floats fails on these
    "8 causes, 6 positive": ring(8, 6, "1/1000", "1/1000"),
    "8 causes, 8 positive": ring(8, 8, "1/1000", "1/1000"),
    "8 causes, 8 positive, small leaks": ring(8, 8, "1/10000", "1/1000"),
    "6 causes, 10 positive": ring(6, 10, "1/10000", "1/1000"),
    "9 causes, 14 positive": ring(9, 14, "1/10000", "1/1000"),
    "random, 12 positive and 3 negative": mesh(1, 9, 12, 3),
    "random, 14 positive and 2 negative": mesh(2, 8, 14, 2),
}
CASES = {"8 causes, 4 positive": ring(8, 4, "1/1000", "1/100"), **HARD}


@pytest.fixture(scope="module", params=list(CASES))
def named(request):
    return request.param, CASES[request.param], by_enumeration(CASES[request.param])


def test_yes_no_findings(named):
    """P(evidence), every cause and every set of them, to a relative 1e-12."""
    _, case, exact = named
    net = case.network()
    got, sets = listed(net, observed(net, case.answers()))
    assert got == pytest.approx(float(exact[0]), rel=RELATIVE, abs=0)
    for i, want in enumerate(posteriors(exact)):
        p = math.fsum(x for names, x in sets.items() if f"c_{i}" in names)
        assert p == pytest.approx(float(want), rel=RELATIVE, abs=0)
    assert len(sets) == 2 ** len(case.priors)


@pytest.mark.first_quick(2)
def test_the_referee_is_right(named):
    """In fractions it equals the definition; in floats it keeps its digits."""
    _, case, exact = named
    if len(case.positive) <= 10:
        assert by_coverage(case) == exact
    assert by_coverage(case.floats()) == pytest.approx(
        [float(x) for x in exact], rel=RELATIVE, abs=0
    )


def test_the_stress_is_real(named):
    """Inclusion-exclusion is the same in fractions, and off by more than 1e-3 in floats."""
    name, case, exact = named
    if len(case.positive) <= 8:
        assert by_inclusion_exclusion(case) == exact
    rough = by_inclusion_exclusion(case.floats())
    off = max(
        abs(a / rough[0] - float(b)) if rough[0] else math.inf
        for a, b in zip(rough[1:], posteriors(exact), strict=True)
    )
    assert (off > 1e-3) == (name in HARD)


@pytest.mark.parametrize(
    ("name", "p"),
    [
        ("8 causes, 4 positive", 4.08e-9),
        ("8 causes, 6 positive", 2.41e-17),
        ("8 causes, 8 positive", 6.95e-23),
        ("8 causes, 8 positive, small leaks", 1.68e-25),
        ("6 causes, 10 positive", 3.69e-20),
    ],
)
def test_how_improbable_the_evidence_is(name, p):
    """The ring of causes is simple enough to do by hand: a product over the causes.

    A cause with m findings: (1 - prior) leak^m + prior (leak + (1 - leak) 0.7)^m.
    """
    case = CASES[name]
    n, k = len(case.priors), len(case.positive)
    prior, leak = case.priors[0], case.leaks[0]
    seen = leak + (1 - leak) * Fraction(7, 10)
    counts = [len(range(i, k, n)) for i in range(n)]
    by_hand = math.prod((1 - prior) * leak**m + prior * seen**m for m in counts)
    assert by_enumeration(case)[0] == by_hand
    assert float(by_hand) == pytest.approx(p, rel=2e-3)


# --- graded findings ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Graded:
    """Graded findings with levels 0 to 3: background, links and what a cause that speaks says."""

    priors: tuple[Fraction, ...]
    background: tuple[tuple[Fraction, ...], ...]  # [finding][level]
    links: tuple[tuple[Fraction, ...], ...]  # [finding][cause]: chance to speak
    said: tuple[tuple[tuple[Fraction, ...], ...], ...]  # [finding][cause][level], 0 at level 0
    level: tuple[int, ...]

    def row(self, j: int, i: int) -> list[Fraction]:
        """P(level | cause i alone)."""
        w = self.links[j][i]
        return [
            (1 - w) * b + w * r for b, r in zip(self.background[j], self.said[j][i], strict=True)
        ]

    def network(self):
        def named(p):
            return {f"l_{level}": x for level, x in enumerate(p)}

        findings = {
            f"f_{j}": (
                "graded",
                named(self.background[j]),
                {f"c_{i}": named(self.row(j, i)) for i, w in enumerate(row) if w},
            )
            for j, row in enumerate(self.links)
        }
        return causes_and_findings({f"c_{i}": p for i, p in enumerate(self.priors)}, findings)

    def answers(self):
        return [(f"f_{j}", f"l_{level}") for j, level in enumerate(self.level)]


def graded(seed: int, n: int, k: int) -> Graded:
    """Rare causes, worse levels rare in the background, every finding at level 1, 2 or 3."""
    rng = random.Random(seed)

    def shares(total, size):
        raw = [rng.randint(1, 9) for _ in range(size)]
        return [total * x / Fraction(sum(raw)) for x in raw]

    background, links, said = [], [], []
    for _ in range(k):
        worse = shares(Fraction(rng.randint(5, 50), 1000), 3)
        background.append((1 - sum(worse), *worse))
        linked = rng.sample(range(n), rng.randint(1, 3))
        links.append(tuple(Fraction(rng.randint(30, 90) * (i in linked), 100) for i in range(n)))
        said.append(tuple((Fraction(0), *shares(Fraction(1), 3)) for _ in range(n)))
    return Graded(
        tuple(Fraction(rng.randint(5, 40), 10_000) for _ in range(n)),
        tuple(background),
        tuple(links),
        tuple(said),
        tuple(rng.randint(1, 3) for _ in range(k)),
    )


def graded_by_enumeration(case: Graded) -> list[Fraction]:
    """[P(e), P(cause 0, e), ...]: the worst of what is said; the background if nobody speaks."""

    def at_most(j, level, present):
        heard, silent = Fraction(1), Fraction(1)
        for i in present:
            w = case.links[j][i]
            heard *= 1 - w + w * sum(case.said[j][i][: level + 1])
            silent *= 1 - w
        return heard - silent + silent * sum(case.background[j][: level + 1])

    out = [Fraction(0)] * (len(case.priors) + 1)
    for flags in itertools.product((False, True), repeat=len(case.priors)):
        present = [i for i, on in enumerate(flags) if on]
        w = math.prod(p if on else 1 - p for p, on in zip(case.priors, flags, strict=True))
        for j, level in enumerate(case.level):
            w *= at_most(j, level, present) - at_most(j, level - 1, present)
        out[0] += w
        for i in present:
            out[i + 1] += w
    return out


def graded_by_coverage(case: Graded) -> list[float]:
    """The recursion with three states a finding: nobody spoke, spoke below its level, reached it.

    The textbook noisy-MAX has two, its background being heard beside the causes; here the
    background is heard only by itself, so that one must know whether anybody spoke.
    """
    k = len(case.level)
    silent, below, reached = 0, 1, 2
    states = list(itertools.product((silent, below, reached), repeat=k))

    def add(weight, moves):
        """`moves[j]`: {(from, to): chance} for finding j."""
        for j, table in enumerate(moves):
            if not table:
                continue
            after = dict.fromkeys(states, 0.0)
            for s, w in weight.items():
                if w:
                    for (a, b), p in table.items():
                        if s[j] == a:
                            after[(*s[:j], b, *s[j + 1 :])] += w * p
            weight = after
        return weight

    def moves(i):
        out = []
        for j, level in enumerate(case.level):
            w = case.links[j][i]
            less = w * sum(case.said[j][i][:level])
            just = w * case.said[j][i][level]
            table = {
                (silent, silent): 1 - w,
                (silent, below): less,
                (silent, reached): just,
                (below, below): 1 - w + less,
                (below, reached): just,
                (reached, reached): 1 - w + less + just,
            }
            out.append({a: float(p) for a, p in table.items()} if w else {})
        return out

    last = [
        {(silent, reached): float(b[level]), (reached, reached): 1.0}
        for b, level in zip(case.background, case.level, strict=True)
    ]

    def total(sure=None):
        weight = dict.fromkeys(states, 0.0)
        weight[(silent,) * k] = 1.0
        for i, prior in enumerate(case.priors):
            p = float(prior)
            away = 0.0 if i == sure else 1.0 - p
            there = add(weight, moves(i))
            weight = {s: away * weight[s] + p * there[s] for s in states}
        return add(weight, last)[(reached,) * k]

    return [total(), *(total(i) for i in range(len(case.priors)))]


@pytest.mark.parametrize(("seed", "n", "k"), [(1, 5, 6), (2, 6, 6), (3, 9, 10), (4, 8, 14)])
def test_graded_findings(seed, n, k):
    """P(evidence) and every cause to a relative 1e-12, up to 14 findings and any set of causes."""
    case = graded(seed, n, k)
    exact = graded_by_enumeration(case)
    assert 0 < exact[0] < Fraction(1, 10**5)
    net = case.network()
    got, sets = listed(net, observed(net, case.answers()))
    assert got == pytest.approx(float(exact[0]), rel=RELATIVE, abs=0)
    for i, want in enumerate(posteriors(exact)):
        p = math.fsum(x for names, x in sets.items() if f"c_{i}" in names)
        assert p == pytest.approx(float(want), rel=RELATIVE, abs=0)
    if k <= 6:
        want = [float(x) for x in exact]
        assert graded_by_coverage(case) == pytest.approx(want, rel=RELATIVE, abs=0)


# --- evidence that cannot be ----------------------------------------------------------------------


def contradiction(floor: float, k: int, unlisted: float):
    """One cause that shows k signs for all but sure, nothing else that does; half of them seen."""
    rows = {"c_a": {"yes": 1 - floor, "no": floor}}
    findings = {f"f_{j}": ("yes_no", {"yes": floor, "no": 1 - floor}, rows) for j in range(k)}
    net = causes_and_findings({"c_a": 0.3, "c_b": 0.1}, findings, unlisted=unlisted)
    return net, [(f"f_{j}", "yes" if j % 2 else "no") for j in range(k)]


@pytest.mark.parametrize("floor", [0.004, 1e-9, 1e-15])
@pytest.mark.parametrize("k", [2, 8, 40])
def test_contradictory_evidence_is_finite_and_said(floor, k):
    """However impossible: numbers that sum to one, a conflict, its pair, and "not listed" leads.

    Against "not in this rule base", which answers by the mean, no conflict can be above log2 of
    1/(its share of the complaints).
    """
    unlisted = 0.08
    net, answers = contradiction(floor, k, unlisted)
    evidence = observed(net, answers)
    got = posterior(net, evidence)
    assert math.isfinite(got.log_evidence)
    assert all(0 <= p <= 1 for p in got.present.values())
    assert math.fsum(p for _, p in got.sets) + got.unlisted == pytest.approx(1, abs=1e-12)
    before = posterior(net, Evidence("trouble"))
    assert got.unlisted > 3 * before.unlisted
    found = conflict(net, evidence)
    assert 2 < found.bits <= math.log2(1 / unlisted) + 1e-9
    signs = dict(answers)
    assert {signs[f] for f in found.pair} == {"yes", "no"}
    if k > 2:
        assert got.unlisted > 0.99


def test_evidence_that_nothing_allows():
    """A reading that all but rules out every answer is weak evidence, not an error."""
    net, _ = contradiction(0.004, 2, 0.08)
    nothing = Observation("f_0", (1e-300, 1e-300))
    got = posterior(net, Evidence("trouble", {}, (Epoch((nothing,)),)))
    start = posterior(net, Evidence("trouble"))
    assert got.present == pytest.approx(start.present, rel=1e-12)
    assert got.log_evidence == pytest.approx(-300 * math.log(10), rel=1e-12)
