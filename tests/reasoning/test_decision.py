"""The decision theory against brute force: orders, prefixes, whole policies."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from troubleshoot.reasoning.decision import (
    FALL_BACK,
    LARGEST,
    Move,
    Problem,
    exact,
    look_ahead,
    one_step,
    two_steps,
)

SEEDS = st.integers(0, 2**32 - 1)
HERE = np.array([0])


def plain(fixes, cost, price, checks=(), check_cost=(), **more) -> Problem:
    """A problem with one machine state."""
    fixes = np.asarray(fixes, dtype=float)
    return Problem(
        fixes=fixes,
        remedy_cost=np.array([cost], dtype=float),
        remedy_leaves=np.zeros((1, len(fixes)), dtype=np.intp),
        checks=tuple(np.asarray(c, dtype=float) for c in checks),
        check_cost=np.array([check_cost], dtype=float).reshape(1, len(checks)),
        check_leaves=np.zeros((1, len(checks)), dtype=np.intp),
        price=price,
        **more,
    )


def random_problem(seed, causes=3, remedies=3, checks=2, states=2, most_outcomes=3):
    """A problem and weights; fixes have zeros and ones, some weights and answers are impossible."""
    rng = np.random.default_rng(seed)
    tables = []
    for _ in range(checks):
        table = rng.dirichlet(np.ones(rng.integers(2, most_outcomes + 1)), causes).T
        table[:, rng.random(causes) < 0.2] = np.eye(len(table))[:, :1]
        tables.append(table)
    fixes = rng.uniform(0, 1, (remedies, causes)) * (rng.random((remedies, causes)) < 0.6)
    fixes[rng.random(fixes.shape) < 0.1] = 1.0
    w = rng.uniform(0, 1, causes) * (rng.random(causes) < 0.9)
    problem = Problem(
        fixes=fixes,
        remedy_cost=rng.uniform(1, 30, (states, remedies)),
        remedy_leaves=rng.integers(0, states, (states, remedies)),
        checks=tuple(tables),
        check_cost=rng.uniform(0.1, 6, (states, checks)),
        check_leaves=rng.integers(0, states, (states, checks)),
        price=float(rng.uniform(20, 150)),
    )
    return problem, w


# --- an independent judge: every policy written out and followed for each hypothesis --------------


def policies(problem, checks, remedies):
    """Every policy, as trees: None (fall back), (remedy, if it failed), (check, by outcome)."""
    yield None
    for r in remedies:
        for rest in policies(problem, checks, remedies - {r}):
            yield "remedy", r, rest
    for c in checks:
        rests = list(policies(problem, checks - {c}, remedies))
        for branches in itertools.product(rests, repeat=len(problem.checks[c])):
            yield "check", c, branches


def follow(problem, policy, h, state):
    """What `policy` costs on average when hypothesis `h` is true."""
    if policy is None:
        return problem.price
    kind, n, rest = policy
    if kind == "remedy":
        after = problem.remedy_leaves[state, n]
        failed = 1.0 - problem.fixes[n, h]
        return problem.remedy_cost[state, n] + failed * follow(problem, rest, h, after)
    after = problem.check_leaves[state, n]
    return problem.check_cost[state, n] + sum(
        p[h] * follow(problem, branch, h, after)
        for p, branch in zip(problem.checks[n], rest, strict=True)
    )


def cheapest_policy(problem, w, state):
    every = policies(problem, frozenset(range(len(problem.checks))), range_set(problem))
    return min(
        sum(w[h] * follow(problem, p, h, state) for h in range(len(w)) if w[h] > 0) for p in every
    )


def range_set(problem):
    return frozenset(range(len(problem.fixes)))


def cost_of(problem, w, choose, state=0, checks=None, tried=()):
    """What following `choose` move by move costs, summed over the weights."""
    checks = tuple(range(len(problem.checks))) if checks is None else checks
    if w.sum() <= 0:
        return 0.0
    move = choose(problem, w, state, checks, tried)
    if move.number == FALL_BACK:
        return w.sum() * problem.price
    if move.is_check:
        rest = tuple(c for c in checks if c != move.number)
        after = problem.check_leaves[state, move.number]
        return problem.check_cost[state, move.number] * w.sum() + sum(
            cost_of(problem, row, choose, after, rest, tried)
            for row in problem.checks[move.number] * w
        )
    left = w * (1.0 - problem.fixes[move.number])
    after = problem.remedy_leaves[state, move.number]
    return problem.remedy_cost[state, move.number] * w.sum() + cost_of(
        problem, left, choose, after, checks, (*tried, move.number)
    )


# --- exact ------------------------------------------------------------------------------------


@settings(max_examples=25, deadline=None)
@given(seed=SEEDS, shape=st.sampled_from([(2, 2, 0), (3, 3, 1), (3, 2, 2), (2, 1, 2), (2, 4, 0)]))
def test_exact_is_the_cheapest_of_all_policies(seed, shape):
    causes, remedies, checks = shape
    problem, w = random_problem(seed, causes, remedies, checks, most_outcomes=2)
    found = exact(problem, w, 1, range(checks))
    assert found.value == pytest.approx(cheapest_policy(problem, w, 1), rel=1e-12)


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(seed=SEEDS)
def test_exact_bounds_every_policy_and_its_first_move_begins_a_best_one(seed):
    problem, w = random_problem(seed, causes=4, remedies=4, checks=3)
    least = exact(problem, w, 0, range(3)).value
    for choose in (
        exact,
        one_step,
        lambda *a: two_steps(*a)[0],
        lambda p, w, s, c, t: p.moves(w, s, c, t)[0],
        lambda p, w, s, c, t: Move(False, int(p.repair(w[None], np.array([s]), t)[1][0]), 0.0),
    ):
        assert cost_of(problem, w, choose) >= least * (1 - 1e-12)
    assert cost_of(problem, w, exact) == pytest.approx(least, rel=1e-12)


@given(seed=SEEDS)
@settings(max_examples=30, deadline=None)
def test_looking_further_ahead_never_promises_more_minutes(seed):
    """Each deeper value is that of a policy with more freedom, and exact has all of it."""
    problem, w = random_problem(seed, causes=4, remedies=4, checks=3)
    repair = problem.repair(w[None], HERE)[0][0]
    moves = problem.moves(w, 0, range(3))[0].value
    one = one_step(problem, w, 0, range(3)).value
    two = two_steps(problem, w, 0, range(3))[0].value
    least = exact(problem, w, 0, range(3)).value
    slack = 1e-9 * (1 + repair)
    assert least <= two + slack
    assert two <= one + slack
    assert one <= moves + slack
    assert moves <= repair + slack


@given(seed=SEEDS)
@settings(max_examples=20, deadline=None)
def test_a_value_is_what_the_plan_it_stands_for_costs(seed):
    """A move then remedies only: followed by hand it costs what `moves` says."""
    problem, w = random_problem(seed)
    for move in problem.moves(w, 0, range(2)):
        if move.number == FALL_BACK:
            continue

        def then_repair(p, w, s, c, t, start=move):
            if len(c) == 2 and not t and start.is_check:
                return start
            if not t and not start.is_check:
                return start
            return Move(False, int(p.repair(w[None], np.array([s]), t)[1][0]), 0.0)

        assert cost_of(problem, w, then_repair) == pytest.approx(move.value, rel=1e-9)


def test_exact_refuses_what_it_cannot_do():
    problem = plain(np.eye(30), np.ones(30), 50.0)
    assert problem.nodes(np.ones(30), ()) > LARGEST
    with pytest.raises(ValueError, match="too many"):
        exact(problem, np.ones(30), 0, ())


def test_small_problems_are_solved_exactly_when_asked():
    for seed in range(20):
        problem, w = random_problem(seed, causes=4, remedies=4, checks=3)
        within = look_ahead(problem, w, 0, range(3), small=10_000)
        assert within[0] == exact(problem, w, 0, range(3))


# --- remedies only ----------------------------------------------------------------------------


def order_cost(p, cost, price, order):
    """Expected cost of an order of perfect remedies, one a cause, then the fall-back."""
    left, total = float(np.sum(p)), 0.0
    for r in order:
        total += cost[r] * left
        left -= p[r]
    return total + price * left


@settings(max_examples=60, deadline=None)
@given(seed=SEEDS, fall_back=st.booleans())
def test_independent_remedies_come_in_the_best_order_of_all(seed, fall_back):
    """With or without a fall-back worth taking, against all orders of all subsets."""
    rng = np.random.default_rng(seed)
    n = 5
    cost = rng.uniform(1, 20, n)
    w = rng.dirichlet(np.ones(n))
    price = float(rng.uniform(5, 60)) if fall_back else 1e4
    problem = plain(np.eye(n), cost, price)
    value, first = problem.repair(w[None], HERE)
    orders = [o for k in range(n + 1) for o in itertools.permutations(range(n), k)]
    best = min(orders, key=lambda o: order_cost(w, cost, price, o))
    assert value[0] == pytest.approx(order_cost(w, cost, price, best), rel=1e-12)
    assert first[0] == (best[0] if best else FALL_BACK)
    if not fall_back:
        assert len(best) == n


def test_the_prefix_that_pays_is_taken_not_the_first_that_does_not():
    """The first remedy alone does not pay for itself; with the second it does."""
    w = np.array([0.5, 0.5])
    # one: 40 > 0.5 * 78; both: 40 + 0.5 * 40 = 60 < 78
    problem = plain(np.eye(2), [40.0, 40.0], 78.0)
    assert order_cost(w, [40, 40], 78.0, [0]) > 78.0
    value, first = problem.repair(w[None], HERE)
    assert value[0] == pytest.approx(60.0)
    assert first[0] == 0


def test_a_tried_remedy_is_not_tried_again():
    problem = plain([[0.9], [0.5]], [5.0, 5.0], 1000.0)
    _, first = problem.repair(np.ones((1, 1)), HERE)
    assert first[0] == 0
    value, first = problem.repair(np.ones((1, 1)), HERE, tried=[0])
    assert first[0] == 1
    assert value[0] == pytest.approx(5 + 0.5 * 1000)
    assert all(m.number != 0 for m in problem.moves(np.ones(1), 0, [], [0]))


@pytest.mark.parametrize(("share", "tried"), [(0.49, False), (0.51, True)])
def test_a_remedy_that_needs_a_share_waits_until_it_is_sure_enough(share, tried):
    """Remedy 0 is nearly free but wants half of the weight."""
    problem = plain(np.eye(2), [0.1, 30.0], 100.0, sure_enough=np.array([0.5, 0.0]))
    w = np.array([share, 1 - share])
    _, first = problem.repair(w[None], HERE)
    assert (first[0] == 0) == tried
    for moves in (
        problem.moves(w, 0, []),
        look_ahead(problem, w, 0, []),
        look_ahead(problem, w, 0, [], small=100),
    ):
        assert ((False, 0) in {(m.is_check, m.number) for m in moves}) == tried
    # Once the other cause has been treated in vain it is sure.
    assert exact(problem, w, 0, []).value == pytest.approx(problem.repair(w[None], HERE)[0][0])


def test_a_check_that_tells_nothing_is_not_worth_its_cost():
    problem = plain(np.eye(2), [10, 10], 100, checks=[[[0.5, 0.5], [0.5, 0.5]]], check_cost=[1])
    w = np.array([0.5, 0.5])
    for move in (
        one_step(problem, w, 0, [0]),
        two_steps(problem, w, 0, [0])[0],
        exact(problem, w, 0, [0]),
    ):
        assert not move.is_check


def test_a_cheap_check_between_two_remedies_is_foreseen():
    """Remedies only hide that a check can come later; one more step sees it."""
    sure = [[1, 1, 0], [0, 0, 1]]
    problem = plain(np.eye(3), [10, 40, 40], 400, checks=[sure], check_cost=[2])
    w = np.array([0.6, 0.2, 0.2])
    blind = {(m.is_check, m.number): m.value for m in problem.moves(w, 0, [0])}
    seeing = {(m.is_check, m.number): m.value for m in look_ahead(problem, w, 0, [0])}
    # After remedy 0 has failed, 0.4 pay 2 for the check and then 40 for the right remedy.
    assert seeing[False, 0] == pytest.approx(10 + 0.4 * (2 + 40))
    assert blind[False, 0] == pytest.approx(10 + 0.4 * 40 + 0.2 * 40)


# --- properties -------------------------------------------------------------------------------


@settings(max_examples=30, deadline=None)
@given(seed=SEEDS, scale=st.floats(1e-6, 1e6))
def test_values_scale_with_the_weights(seed, scale):
    problem, w = random_problem(seed)
    for solve in (
        lambda w: problem.repair(w[None], HERE)[0][0],
        lambda w: problem.moves(w, 0, range(2))[0].value,
        lambda w: one_step(problem, w, 0, range(2)).value,
        lambda w: two_steps(problem, w, 0, range(2))[0].value,
        lambda w: exact(problem, w, 0, range(2)).value,
    ):
        assert solve(w * scale) == pytest.approx(solve(w) * scale, rel=1e-9)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("solve", [one_step, lambda *a: two_steps(*a)[0], exact])
@pytest.mark.parametrize("seed", range(10))
def test_no_weight_no_cost_and_no_nan(solve, seed):
    problem, w = random_problem(seed)
    assert solve(problem, np.zeros_like(w), 0, range(2)).value == 0
    lone = np.zeros_like(w)
    lone[0] = 1e-300
    assert np.isfinite(solve(problem, lone, 0, range(2)).value)


@settings(max_examples=30, deadline=None)
@given(seed=SEEDS)
def test_rows_do_not_mind_their_neighbours(seed):
    problem, _ = random_problem(seed, causes=4, remedies=4)
    rows = np.random.default_rng(seed).uniform(0, 1, (6, 4))
    states = np.array([0, 1, 0, 1, 0, 1])
    value, first = problem.repair(rows, states)
    for n in range(6):
        one, lead = problem.repair(rows[n : n + 1], states[n : n + 1])
        assert one[0] == pytest.approx(value[n], rel=1e-12)
        assert lead[0] == first[n]


@settings(max_examples=30, deadline=None)
@given(seed=SEEDS)
def test_giving_up_early_on_a_row_changes_nothing(seed):
    """The stopping bound against the greedy order followed to its end, one remedy at a time."""
    problem, w = random_problem(seed, causes=5, remedies=5)
    left, state, spent, tried = w, 0, 0.0, []
    best, first = w.sum() * problem.price, FALL_BACK
    while len(tried) < 5:
        gain = [0.0 if r in tried else float(problem.fixes[r] @ left) for r in range(5)]
        pick = int(np.argmax(gain / problem.remedy_cost[state]))
        if gain[pick] <= 0:
            break
        spent += problem.remedy_cost[state, pick] * left.sum()
        left, state = left * (1 - problem.fixes[pick]), problem.remedy_leaves[state, pick]
        tried.append(pick)
        if spent + left.sum() * problem.price < best:
            best, first = spent + left.sum() * problem.price, tried[0]
    value, lead = problem.repair(w[None], HERE)
    assert value[0] == pytest.approx(best, rel=1e-12)
    assert lead[0] == first


@given(SEEDS)
@settings(max_examples=60, deadline=None)
def test_equals_come_in_one_order_however_the_causes_are_listed(seed):
    """Every check stands there twice, its answers turned round: other sums round otherwise."""
    problem, w = random_problem(seed, causes=5, remedies=2, checks=2, states=1)
    fixes = np.vstack([problem.fixes] * 2)
    checks = *problem.checks, *(c[::-1] for c in problem.checks)
    costs = np.tile(problem.remedy_cost[0], 2), np.tile(problem.check_cost[0], 2)
    order = np.random.default_rng(seed).permutation(len(w))

    def best(columns):
        again = plain(
            fixes[:, columns], costs[0], problem.price, [c[:, columns] for c in checks], costs[1]
        )
        return [(m.is_check, m.number) for m in look_ahead(again, w[columns], 0, range(4))]

    first = best(np.arange(len(w)))
    assert best(order) == first


# --- what is left to look at ----------------------------------------------------------------------


def rest(problem, *w):
    """What is left to pay for one row of weights."""
    return problem.rest(np.array([w]), np.array([sum(w)]))[0]


def test_looking_further_costs_its_bits_and_the_right_remedy_after_them():
    """Two remedies for 10 and 20, three quarters and a quarter: 0.8113 bits (Shannon 1948)."""
    problem = plain(np.eye(2), [10.0, 20.0], 600.0, a_bit=12.0)
    assert rest(problem, 0.75, 0.25) == pytest.approx(12.5 + 12 * 0.811278, abs=1e-5)
    assert rest(problem, 1.0, 0.0) == pytest.approx(10.0)
    alike = plain([[1.0, 1.0]], [10.0], 600.0, a_bit=12.0)  # one remedy: nothing to tell apart
    assert rest(alike, 0.5, 0.5) == pytest.approx(10.0)
    dear = plain(np.eye(2), [10.0, 20.0], 5.0, a_bit=12.0)
    assert rest(dear, 0.5, 0.5) == pytest.approx(5.0)


@settings(max_examples=100, deadline=None)
@given(seed=SEEDS, a_bit=st.floats(0.1, 100))
def test_looking_further_never_costs_more_after_an_answer(seed, a_bit):
    """The price of what is left is concave: on average no answer makes it dearer."""
    drawn, w = random_problem(seed)
    problem = replace(drawn, a_bit=a_bit)
    before = rest(problem, *w)
    for table in problem.checks:
        assert sum(rest(problem, *row) for row in table * w) <= before + 1e-9


@settings(max_examples=100, deadline=None)
@given(seed=SEEDS)
def test_small_problems_are_solved_with_the_price_of_what_is_left(seed):
    """Without a move left to make, the exact value is that price; with moves it is no more."""
    drawn, w = random_problem(seed)
    problem = replace(drawn, a_bit=7.0)
    assert exact(problem, w, 0, range(2)).value <= rest(problem, *w) + 1e-9
    nothing = exact(problem, w, 0, (), tried=range(len(problem.fixes)))
    assert nothing.value == pytest.approx(rest(problem, *w))
