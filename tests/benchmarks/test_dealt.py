"""Sessions that are dealt out tell the mean that a sum over the whole tree gives."""

import random
from functools import partial

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


def choices(seed, depth):
    """A random tree of decisions: [move], each (cost, [(probability, tree)]); none at an end."""
    rng = random.Random(f"{seed}")
    if depth == 0:
        return []
    moves = []
    for m in range(2):
        raw = [rng.random() for _ in range(3)]
        after = [(p / sum(raw), choices(f"{seed} {m}{k}", depth - 1)) for k, p in enumerate(raw)]
        moves.append((rng.choice([1.0, 5.0, 60.0]), after))
    return moves


def worth(move):
    """What a move costs to the end if all that follow are the best."""
    return move[0] + sum(p * min(map(worth, node), default=0.0) for p, node in move[1])


def made(node, policy, cost):
    """As `meet`, where `policy` chooses among the moves; `cost` says what it pays for one."""
    if not node:
        return Met(0.0)
    move = policy(node)
    return Met(cost(node, move), [(str(k), p, after) for k, (p, after) in enumerate(move[1])])


def test_what_is_lost_move_by_move_is_what_the_whole_costs_more():
    """The performance difference lemma (Kakade and Langford 2002, ICML, lemma 6.1), exactly."""

    def first(node):
        return node[0]

    def best(node):
        return min(node, key=worth)

    def paid(node, move):
        return move[0]

    def lost(node, move):
        return worth(move) - worth(best(node))

    root = choices(1, 3)
    plays = [
        partial(made, policy=p, cost=c) for p, c in ((first, paid), (best, paid), (first, lost))
    ]
    costs, least, more = (likely_cost(root, play, 0.0)[0] for play in plays)
    assert least == pytest.approx(worth(best(root)))
    assert more == pytest.approx(costs - least)
    assert more > 0.0
    dealt = [[mean_cost(root, play, 5, f"{n} ") for play in plays] for n in range(100)]
    told = [row[2] for row in dealt]
    assert abs(np.mean(told) - more) < 4.0 * np.std(told, ddof=1) / np.sqrt(len(told))
    assert np.std(told) < np.std([row[0] - row[1] for row in dealt])


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
