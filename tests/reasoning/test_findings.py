"""How causes combine on one finding, against definitions enumerated in `combine`."""

import itertools
import math
import random

import numpy as np
import pytest

from tests.reasoning.combine import all_must_go, combined, noisy_max, one_is_heard
from tests.reasoning.small import KINDS, finding, shares, subsets
from troubleshoot.knowledge.load import load
from troubleshoot.reasoning.findings import compile_table


@pytest.fixture(scope="module")
def rules():
    return load()


@pytest.fixture(scope="module")
def tables(rules):
    names = list(rules.causes)
    return {f.id: compile_table(f, names, rules.rows) for f in rules.findings.values()}


def members(sets, n, width=None):
    """Rows of indices padded with n."""
    width = width or max(1, max(len(s) for s in sets))
    return np.array([[*s, *[n] * (width - len(s))] for s in sets], dtype=np.intp)


def invented(kind, seed, n=4):
    """A finding of `kind`, rows of n causes for it, and its table."""
    rng = random.Random(seed)
    answers = rng.choice(KINDS[kind])
    b = shares(rng, answers)
    rows = [shares(rng, answers) for _ in range(n)]
    names = [f"c_{i}" for i in range(n)]
    cells = {(name, "f_x"): row for name, row in zip(names, rows, strict=True)}
    return b, rows, compile_table(finding("f_x", kind, b), names, cells)


def check_against(enumerated, kind, seed):
    b, rows, table = invented(kind, seed)
    sets = list(subsets(range(len(rows))))
    got = table.probabilities(members(sets, len(rows)))
    for present, p in zip(sets, got, strict=True):
        want = enumerated([rows[i] for i in present], b)
        assert p == pytest.approx(list(want.values()), abs=1e-12), (kind, seed, present)


# --- the shipped rules --------------------------------------------------------------------------


def test_single_causes_give_back_their_rows(rules, tables):
    """With one cause present every finding answers by that cause's own row, to 1e-12."""
    n = len(rules.causes)
    singles = np.arange(n, dtype=np.intp)[:, None]
    worst = 0.0
    for f in rules.findings.values():
        got = tables[f.id].probabilities(singles)
        for i, cause in enumerate(rules.causes):
            row = rules.rows.get((cause, f.id), f.background)
            total = sum(row.values())
            worst = max(worst, *(abs(got[i, a] - row[x] / total) for a, x in enumerate(f.answers)))
    assert worst < 1e-12


@pytest.mark.parametrize("kind", KINDS)
def test_single_invented_causes_give_back_their_rows(kind):
    """The same for every kind, on random rows."""
    for seed in range(50):
        _, rows, table = invented(kind, seed)
        got = table.probabilities(np.arange(len(rows), dtype=np.intp)[:, None])
        assert got == pytest.approx(np.array([list(r.values()) for r in rows]), abs=1e-12)


def test_no_cause_gives_the_background(rules, tables):
    """The empty set answers by the background."""
    n = len(rules.causes)
    for f in rules.findings.values():
        got = tables[f.id].probabilities(np.array([[n, n]], dtype=np.intp))[0]
        b = np.array([f.background[a] for a in f.answers])
        assert got == pytest.approx(b / b.sum(), abs=1e-12)


def test_probabilities_are_probabilities(rules, tables):
    """For all singles and pairs of the shipped causes: in [0, 1], summing to 1, none ruled out."""
    n = len(rules.causes)
    sets = members([s for s in subsets(range(n), 2) if s], n)
    for name, table in tables.items():
        p = table.probabilities(sets)
        assert p.min() > 0, name
        assert p.max() <= 1 + 1e-15, name
        assert np.abs(p.sum(axis=1) - 1).max() < 1e-12, name


def test_triples_are_probabilities_too(rules, tables):
    """2,000 random sets of three."""
    n = len(rules.causes)
    rng = random.Random(3)
    sets = members([tuple(rng.sample(range(n), 3)) for _ in range(2000)], n)
    for name, table in tables.items():
        p = table.probabilities(sets)
        assert p.min() > 0, name
        assert np.abs(p.sum(axis=1) - 1).max() < 1e-12, name


def test_order_and_padding_do_not_matter(rules, tables):
    """A set is a set: members in any order, padded anywhere, give the same probabilities."""
    n = len(rules.causes)
    rng = random.Random(5)
    pairs = [tuple(rng.sample(range(n), 2)) for _ in range(300)]
    one = members(pairs, n, 3)
    two = np.array([[n, b, a] for a, b in pairs], dtype=np.intp)
    for table in tables.values():
        assert table.probabilities(one) == pytest.approx(table.probabilities(two), abs=1e-14)


def test_a_cause_without_a_say_changes_nothing(rules, tables):
    """Adding a cause that has no row for a finding leaves its probabilities as they were."""
    n = len(rules.causes)
    names = list(rules.causes)
    rng = random.Random(7)
    for f in rules.findings:
        mute = [i for i, c in enumerate(names) if (c, f) not in rules.rows]
        others = [rng.sample([i for i in range(n) if i not in mute] or mute, 1)[0]] * 20
        with_mute = [(i, m) for i, m in zip(others, rng.sample(mute, 20), strict=True)]
        a = tables[f].probabilities(members([(i,) for i in others], n))
        b = tables[f].probabilities(members(with_mute, n))
        assert a == pytest.approx(b, abs=1e-14), f


def test_shipped_pairs_against_enumeration(rules, tables):
    """Every kind of shipped finding agrees with its enumerated definition on its own causes."""
    names = list(rules.causes)
    rng = random.Random(11)
    for f in rules.findings.values():
        mine = [i for i, c in enumerate(names) if (c, f.id) in rules.rows]
        pairs = list(itertools.combinations(mine, 2))
        for pair in rng.sample(pairs, min(12, len(pairs))):
            got = tables[f.id].probabilities(members([pair], len(names)))[0]
            want = combined(f.kind, [rules.rows[names[i], f.id] for i in pair], f.background)
            assert got == pytest.approx([want[a] for a in f.answers], abs=1e-12), (f.id, pair)


# --- the definitions ----------------------------------------------------------------------------


def test_yes_no_is_a_leak_excluded_noisy_or():
    """Causes that all push towards "yes": P(no) = (1 - b) prod (1 - q_i)/(1 - b).

    Henrion 1989, "Some practical issues in constructing belief networks": the leak b is contained
    in each q_i and divided out of it.
    """
    rng = random.Random(1)
    for _ in range(300):
        b = rng.uniform(0.01, 0.5)
        q = [rng.uniform(b, 0.99) for _ in range(4)]
        names = [f"c_{i}" for i in range(4)]
        rows = {(c, "f_x"): {"yes": x, "no": 1 - x} for c, x in zip(names, q, strict=True)}
        table = compile_table(finding("f_x", "yes_no", {"yes": b, "no": 1 - b}), names, rows)
        sets = list(subsets(range(4)))
        got = table.probabilities(members(sets, 4))
        for present, p in zip(sets, got, strict=True):
            no = (1 - b) * math.prod((1 - q[i]) / (1 - b) for i in present)
            assert p == pytest.approx([1 - no, no], abs=1e-12)


def test_yes_no_towards_no_is_its_mirror_image():
    """Causes that all push towards "no": the same formula with yes and no exchanged."""
    rng = random.Random(2)
    for _ in range(300):
        b = rng.uniform(0.5, 0.99)
        q = [rng.uniform(0.01, b) for _ in range(3)]
        names = [f"c_{i}" for i in range(3)]
        rows = {(c, "f_x"): {"yes": x, "no": 1 - x} for c, x in zip(names, q, strict=True)}
        table = compile_table(finding("f_x", "yes_no", {"yes": b, "no": 1 - b}), names, rows)
        got = table.probabilities(np.array([[0, 1, 2]], dtype=np.intp))[0]
        assert got[0] == pytest.approx(b * math.prod(x / b for x in q), abs=1e-12)


@pytest.mark.parametrize("seed", range(60))
def test_graded_is_a_noisy_max(seed):
    """Enumerated over who speaks and what each says: the worst is seen (Diez 1993)."""
    check_against(noisy_max, "graded", seed)


@pytest.mark.parametrize("kind", ["choice", "two_sided", "yes_no"])
@pytest.mark.parametrize("seed", range(40))
def test_choice_and_two_sided_hear_one_cause(kind, seed):
    """N b + (1 - N) sum(l r)/sum(l), with N and 1 - N enumerated over who speaks."""
    check_against(one_is_heard, kind, seed)


@pytest.mark.parametrize("seed", range(60))
def test_cure_tests_multiply(seed):
    """Enumerated outcomes: the complaint goes only if what bears on it goes for every cause."""
    check_against(all_must_go, "cure_test", seed)


def test_curing_one_of_two_does_not_cure():
    """A trick that relieves one cause (0.9) and not the other (0.1) relieves the pair with 0.09."""
    rows = {
        ("c_a", "f_x"): {"gone": 0.9, "same": 0.1},
        ("c_b", "f_x"): {"gone": 0.1, "same": 0.9},
    }
    f = finding("f_x", "cure_test", {"gone": 0.5, "same": 0.5})
    table = compile_table(f, ["c_a", "c_b"], rows)
    got = table.probabilities(np.array([[0, 1]], dtype=np.intp))[0]
    assert got == pytest.approx([0.09, 0.91], abs=1e-15)


def test_a_worse_cause_never_makes_a_graded_finding_look_better():
    """Adding a cause with its mass at the worst answer lowers no P(at least this bad)."""
    for seed in range(100):
        rng = random.Random(seed)
        answers = ["a0", "a1", "a2", "a3"]
        b = shares(rng, answers)
        b = dict(zip(answers, sorted(b.values(), reverse=True), strict=True))
        bad = {"a0": 0.02, "a1": 0.03, "a2": 0.05, "a3": 0.9}
        rows = {("c_a", "f_x"): shares(rng, answers), ("c_b", "f_x"): bad}
        table = compile_table(finding("f_x", "graded", b), ["c_a", "c_b"], rows)
        alone, both = table.probabilities(np.array([[0, 2], [0, 1]], dtype=np.intp))
        assert np.all(np.cumsum(both)[:-1] <= np.cumsum(alone)[:-1] + 1e-12), seed
