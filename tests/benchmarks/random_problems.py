"""Random small troubleshooting problems that can be solved exactly, and what policies cost there.

Each has 5 causes, 4 checks with noisy yes/no answers, one imperfect remedy a cause and one that
helps two, a fall-back at several times the mean cost, and (with clusters) three machine states
between which moving costs minutes.
"""

from collections.abc import Callable

import numpy as np

from troubleshoot.reasoning.decision import (
    FALL_BACK,
    Move,
    Problem,
    exact,
    look_ahead,
    one_step,
    two_steps,
)

CAUSES, CHECKS, STATES = 5, 4, 3
SMALL = 600


def draw(rng: np.random.Generator, clusters: bool) -> tuple[Problem, np.ndarray]:
    """One problem and its prior weights."""
    prior = rng.dirichlet(np.ones(CAUSES))
    fixes = np.zeros((CAUSES + 1, CAUSES))
    fixes[np.arange(CAUSES), np.arange(CAUSES)] = rng.uniform(0.7, 1.0, CAUSES)
    pair = rng.choice(CAUSES, 2, replace=False)
    fixes[CAUSES, pair] = rng.uniform(0.5, 0.9, 2)
    yes = rng.choice([0.05, 0.1, 0.3, 0.7, 0.9, 0.95], (CHECKS, CAUSES))
    checks = tuple(np.array([y, 1.0 - y]) for y in yes)
    remedy = rng.uniform(5, 60, CAUSES + 1)
    check = rng.uniform(1, 15, CHECKS)
    states = STATES if clusters else 1
    move = rng.uniform(3, 20, (states, states)) * (1.0 - np.eye(states))
    needs_r = rng.integers(0, states, CAUSES + 1)
    needs_c = rng.integers(0, states, CHECKS)
    return (
        Problem(
            fixes=fixes,
            remedy_cost=remedy + move[:, needs_r],
            remedy_leaves=np.tile(needs_r, (states, 1)),
            checks=checks,
            check_cost=check + move[:, needs_c],
            check_leaves=np.tile(needs_c, (states, 1)),
            price=float(6 * remedy.mean()),
            most_remedies=CAUSES + 1,
        ),
        prior,
    )


Checks = tuple[int, ...]
Policy = Callable[[Problem, np.ndarray, int, Checks, Checks], Move]


def plain(problem: Problem, w: np.ndarray, state: int, checks: Checks, tried: Checks) -> Move:
    """The best move when only remedies may follow it."""
    return problem.moves(w, state, checks, tried)[0]


def two(problem: Problem, w: np.ndarray, state: int, checks: Checks, tried: Checks) -> Move:
    """Two steps ahead."""
    return two_steps(problem, w, state, checks, tried)[0]


def small(problem: Problem, w: np.ndarray, state: int, checks: Checks, tried: Checks) -> Move:
    """One step ahead until what is left has few enough nodes to be solved exactly.

    A whole problem has 5,184 nodes, one with two checks left 576: the first moves are the policy's.
    """
    return look_ahead(problem, w, state, checks, tried, small=SMALL)[0]


def repairs(problem: Problem, w: np.ndarray, state: int, checks: Checks, tried: Checks) -> Move:
    """Remedies by probability over cost, never asking."""
    value, first = problem.repair(w[None, :], np.array([state]), tried)
    return Move(False, int(first[0]), float(value[0]))


def bits(problem: Problem, w: np.ndarray, state: int, checks: Checks, tried: Checks) -> Move:
    """The check with most bits a minute until one cause is above 0.8, then repairs."""
    p = w / w.sum()
    if not checks or p.max() > 0.8:
        return repairs(problem, w, state, checks, tried)

    def rate(c: int) -> float:
        joint = problem.checks[c] * p
        mean = joint.sum(axis=1, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            terms = np.where(joint > 0, joint * np.log2(problem.checks[c] / mean), 0.0)
        return float(terms.sum() / problem.check_cost[state, c])

    return Move(True, max(checks, key=rate), 0.0)


def policy_cost(
    problem: Problem,
    w: np.ndarray,
    policy: Policy,
    state: int = 0,
    checks: Checks = tuple(range(CHECKS)),
    tried: Checks = (),
) -> float:
    """What following `policy` to the end costs on average."""
    if w.sum() <= 1e-12:
        return 0.0
    move = policy(problem, w, state, checks, tried)
    if move.number == FALL_BACK:
        return float(w.sum() * problem.price)
    if move.is_check:
        rest = tuple(c for c in checks if c != move.number)
        after = int(problem.check_leaves[state, move.number])
        cost = float(problem.check_cost[state, move.number] * w.sum())
        return cost + sum(
            policy_cost(problem, row, policy, after, rest, tried)
            for row in problem.checks[move.number] * w
        )
    left = w * (1.0 - problem.fixes[move.number])
    after = int(problem.remedy_leaves[state, move.number])
    cost = float(problem.remedy_cost[state, move.number] * w.sum())
    return cost + policy_cost(problem, left, policy, after, checks, (*tried, move.number))


POLICIES: dict[str, Policy] = {
    "two steps": two,
    "one step": one_step,
    "one step, exact when small": small,
    "one move, then repairs": plain,
    "bits a minute": bits,
    "repairs only": repairs,
}


def ratios(number: int, seed: int, clusters: bool) -> dict[str, np.ndarray]:
    """Cost over the exact optimum for each policy on `number` problems."""
    rng = np.random.default_rng(seed)
    out: dict[str, list[float]] = {name: [] for name in POLICIES}
    for _ in range(number):
        problem, w = draw(rng, clusters)
        least = exact(problem, w, 0, range(CHECKS)).value
        for name, policy in POLICIES.items():
            out[name].append(policy_cost(problem, w, policy) / least)
    return {name: np.array(values) for name, values in out.items()}
