"""Sessions that are dealt out tell the mean that a sum over the whole tree gives."""

import random

import numpy as np
import pytest

from tests.benchmarks.dealt import Met, deal, likely_cost, mean_and_half, mean_cost, over_strata


def tree(seed, depth):
    """A random tree of (cost, [(probability, tree)])."""
    rng = random.Random(f"{seed}")
    cost = rng.choice([1.0, 5.0, 600.0])
    if depth == 0 or rng.random() < 0.2:
        return cost, []
    raw = [rng.random() ** 3 for _ in range(rng.randint(2, 4))]
    return cost, [(p / sum(raw), tree(f"{seed} {k}", depth - 1)) for k, p in enumerate(raw)]


def exact(node):
    cost, outcomes = node
    return cost + sum(p * exact(after) for p, after in outcomes)


def meet(node):
    cost, outcomes = node
    return Met(cost, [(str(k), p, after) for k, (p, after) in enumerate(outcomes)])


def drawn(node, rng):
    cost, outcomes = node
    if not outcomes:
        return cost
    shares = [p for p, _ in outcomes]
    return cost + drawn(rng.choices([after for _, after in outcomes], shares)[0], rng)


def off(node):
    """A guess that is wrong by a fifth, and by ten."""
    return 1.2 * exact(node) + 10.0


@pytest.mark.parametrize("sessions", [1, 7, 40])
def test_the_mean_is_unbiased_and_spreads_less_than_drawn_sessions(sessions):
    root, rng = tree(5, 6), random.Random(1)
    single = np.std([drawn(root, rng) for _ in range(2000)], ddof=1) / np.sqrt(sessions)
    for guess, least in ((lambda _: 0.0, 1.1 if sessions == 1 else 0.9), (off, 0.3)):
        means = [mean_cost(root, meet, sessions, f"{n} ", guess) for n in range(400)]
        spread = np.std(means, ddof=1)
        assert abs(np.mean(means) - exact(root)) < 4.0 * spread / np.sqrt(len(means))
        assert spread < least * single


def test_the_likely_part_of_a_tree_is_summed_exactly():
    root = tree(5, 6)
    assert likely_cost(root, meet, 0.0)[0] == pytest.approx(exact(root))
    assert likely_cost(root, meet, 0.6, p=0.5) == (0.0, 0.0)
    parts = [likely_cost(root, meet, least) for least in (0.1, 0.01, 0.001)]
    assert sorted(parts) == parts


def test_a_perfect_guess_leaves_no_luck():
    root = tree(5, 6)
    assert mean_cost(root, meet, 3, "s", exact) == pytest.approx(exact(root))


def test_the_interval_holds_the_truth_as_often_as_it_says():
    """Binomial with n = 300 and p = 0.95: 274 to 296 hold it in 99.7 % of all runs."""
    root, held = tree(5, 6), 0
    truth = exact(root)
    for run in range(300):
        mean, half = mean_and_half([mean_cost(root, meet, 30, f"{run} {n} ") for n in range(6)])
        held += abs(mean - truth) <= half
    assert 274 <= held <= 296


def test_the_interval_over_strata_holds_the_truth_as_often_as_it_says():
    """As above; three rounds of strata of unlike weights and spreads."""
    rng, weights, held = random.Random(3), [0.5, 0.3, 0.15, 0.05], 0
    for _ in range(300):
        rounds = [[rng.gauss(100 * k, 10 * (k + 1)) for k in range(4)] for _ in range(3)]
        mean, half = over_strata(weights, rounds)
        held += abs(mean - sum(w * 100 * k for k, w in enumerate(weights))) <= half
    assert 274 <= held <= 297


def test_shares_are_dealt_to_the_nearest_whole_sessions():
    rng = random.Random(2)
    for _ in range(200):
        shares, sessions = [rng.random() for _ in range(rng.randint(1, 6))], rng.randint(1, 50)
        dealt = deal(shares, sessions, rng.random())
        assert sum(dealt) == sessions
        for share, some in zip(shares, dealt, strict=True):
            assert abs(some - sessions * share / sum(shares)) < 1.0 + 1e-9


def test_policies_that_do_the_same_have_the_same_luck():
    """Only what is done otherwise makes a difference."""
    root = tree(5, 6)
    dearer = (root[0] + 3.0, root[1])
    one, other = (mean_cost(r, meet, 25, "s") for r in (root, dearer))
    assert other - one == pytest.approx(3.0)
