"""Expected cost of repair: what to do first, on plain arrays that know nothing of coaters.

Words used here
    hypothesis  one of H explanations, of which one is true; `w` holds their (unnormalised) weights
    remedy      ends the problem with chance `fixes[remedy, hypothesis]`, seen at once
    check       has outcomes with P(outcome | hypothesis); afterwards it is not done again
    state       what the machine is in; costs depend on it and actions leave it changed
    price       the fall-back that ends the problem whatever it is

All values are sums over the weights: cost times the weight that still has to pay it, so they need
no normalising. Three policies of rising price and quality: `Problem.repair` (remedies only),
`one_step` (each move followed by remedies only), `two_steps`; and `exact` for small problems.

Heckerman, Breese and Rommelse 1995, "Decision-theoretic troubleshooting", CACM 38(3):49-57; the
order by probability over cost goes back to Kadane and Simon 1977.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from troubleshoot.reasoning.findings import Floats, Ints

FALL_BACK = -1


@dataclass(frozen=True)
class Move:
    """A check (`is_check`) or a remedy by its number, or the fall-back; `value` if taken first."""

    is_check: bool
    number: int
    value: float


@dataclass(frozen=True)
class Problem:
    """One troubleshooting problem.

    fixes (R, H); remedy_cost (S, R) and remedy_leaves (S, R), by the state one comes from; each of
    `checks` (outcomes, H); check_cost (S, C) and check_leaves (S, C); `price` of the fall-back.
    `sure_enough` (R,): a remedy is tried only where the share of weight it would fix is at least
    this (0 for all but "nothing is wrong").
    """

    fixes: Floats
    remedy_cost: Floats
    remedy_leaves: Ints
    checks: tuple[Floats, ...]
    check_cost: Floats
    check_leaves: Ints
    price: float
    sure_enough: Floats = field(default_factory=lambda: np.zeros(0))
    most_remedies: int = 16

    def repair(
        self, w: Floats, state: Ints, tried: Sequence[int] = (), also: Ints | None = None
    ) -> tuple[Floats, Ints]:
        """Value of trying remedies only, for rows of weights (rows, H), and the first of them.

        Remedies in `tried` are not tried again; `also` names one more such remedy for each row.

        Greedy by chance to fix over cost, weights updated after each failure; of all prefixes of
        that order, followed by the fall-back, the cheapest. First is `FALL_BACK` for the empty one.
        """
        rows, remedies = len(w), len(self.fixes)
        left, at = w.copy(), np.broadcast_to(state, rows).copy()
        index = np.arange(rows)
        spent = np.zeros(rows)
        best = w.sum(axis=1) * self.price
        first = np.full(rows, FALL_BACK)
        picked = first.copy()
        open_ = np.ones((rows, remedies), dtype=bool)
        open_[:, list(tried)] = False
        if also is not None:
            open_[index, also] = False
        for step in range(min(remedies, self.most_remedies)):
            mass = left.sum(axis=1)
            gain = np.where(open_, left @ self.fixes.T, 0.0)
            if self.sure_enough.size:
                gain = np.where(gain >= self.sure_enough * mass[:, None], gain, 0.0)
            cost = self.remedy_cost[at]
            pick = np.argmax(gain / cost, axis=1)
            gained = gain[index, pick]
            going = gained > 0
            if not going.any():
                break
            # A row with nothing left to gain stands still.
            spent += np.where(going, cost[index, pick] * mass, 0.0)
            left = np.where(going[:, None], left * (1.0 - self.fixes[pick]), left)
            at = np.where(going, self.remedy_leaves[at, pick], at)
            open_[index, pick] &= ~going
            if step == 0:
                picked = np.where(going, pick, FALL_BACK)
            total = spent + left.sum(axis=1) * self.price
            better = total < best
            best = np.where(better, total, best)
            first = np.where(better, picked, first)
        return best, first

    def moves(
        self, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int] = ()
    ) -> list[Move]:
        """Every move valued as if only remedies followed, best first (one step ahead).

        The remedies-only value stands under its first remedy; other remedies are valued as first
        moves too, because costs that depend on the state can make another order the better one.
        """
        here = np.array([state])
        value, first = self.repair(w[None, :], here, tried)
        out = [Move(False, int(first[0]), float(value[0]))]
        if int(first[0]) != FALL_BACK:
            out.append(Move(False, FALL_BACK, float(w.sum() * self.price)))
        left = w * (1.0 - self.fixes)
        every = np.arange(len(self.fixes))
        after, _ = self.repair(left, self.remedy_leaves[state], tried, every)
        paid = self.remedy_cost[state] * w.sum()
        gain = self.fixes @ w
        allowed = gain > 0
        allowed[list(tried)] = False
        if self.sure_enough.size:
            allowed &= gain >= self.sure_enough * w.sum()
        out += [
            Move(False, int(r), float(paid[r] + after[r]))
            for r in np.flatnonzero(allowed)
            if r != first[0]
        ]
        out += self._check_moves(w, state, checks, tried)
        return sorted(out, key=lambda m: (m.value, not m.is_check, m.number))

    def _check_moves(
        self, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int]
    ) -> list[Move]:
        if not checks:
            return []
        joint = [self.checks[c] * w for c in checks]
        sizes = [len(j) for j in joint]
        leaves = np.repeat(self.check_leaves[state, list(checks)], sizes)
        value, _ = self.repair(np.concatenate(joint), leaves, tried)
        ends = np.cumsum(sizes)
        mass = w.sum()
        return [
            Move(
                True,
                c,
                float(self.check_cost[state, c] * mass + value[end - size : end].sum()),
            )
            for c, size, end in zip(checks, sizes, ends, strict=True)
        ]


def one_step(
    problem: Problem, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int] = ()
) -> Move:
    """The best move when everything after it is remedies only."""
    return problem.moves(w, state, checks, tried)[0]


def two_steps(
    problem: Problem,
    w: Floats,
    state: int,
    checks: Sequence[int],
    tried: Sequence[int] = (),
    width: int = 5,
    least: float = 0.0,
) -> list[Move]:
    """The `width` best moves valued with one more step of looking ahead, best first.

    An outcome whose share of the weight is below `least` is valued by remedies only.
    """

    def ahead(w_after: Floats, after: int, rest: Sequence[int], gone: Sequence[int]) -> float:
        if w_after.sum() <= 0:
            return 0.0
        if w_after.sum() < least * w.sum():
            return float(problem.repair(w_after[None, :], np.array([after]), gone)[0][0])
        return one_step(problem, w_after, after, rest, gone).value

    out = []
    for move in problem.moves(w, state, checks, tried)[:width]:
        if move.number == FALL_BACK:
            out.append(move)
            continue
        if move.is_check:
            cost = problem.check_cost[state, move.number]
            after = int(problem.check_leaves[state, move.number])
            rest = [c for c in checks if c != move.number]
            value = sum(ahead(row, after, rest, tried) for row in problem.checks[move.number] * w)
        else:
            cost = problem.remedy_cost[state, move.number]
            after = int(problem.remedy_leaves[state, move.number])
            left = w * (1.0 - problem.fixes[move.number])
            value = ahead(left, after, checks, [*tried, move.number])
        out.append(Move(move.is_check, move.number, float(cost * w.sum() + value)))
    return sorted(out, key=lambda m: (m.value, not m.is_check, m.number))


def exact(problem: Problem, w: Floats, state: int, checks: Sequence[int]) -> Move:
    """The best first move and the least possible value, by dynamic programming.

    Visits every combination of answers and failed remedies: for problems of a handful of checks
    and remedies. A remedy may be tried once. `sure_enough` is not applied: nothing stands in the
    way of the optimum.
    """
    memo: dict[tuple[bytes, int, frozenset[int], frozenset[int]], Move] = {}

    def best(w: Floats, state: int, checks: frozenset[int], remedies: frozenset[int]) -> Move:
        mass = float(w.sum())
        if mass <= 0:
            return Move(False, FALL_BACK, 0.0)
        key = (np.round(w / mass, 13).tobytes(), state, checks, remedies)
        if key in memo:
            kept = memo[key]
            return Move(kept.is_check, kept.number, kept.value * mass)
        found = Move(False, FALL_BACK, mass * problem.price)
        for r in sorted(remedies):
            cost = float(problem.remedy_cost[state, r]) * mass
            if cost < found.value:
                left = w * (1.0 - problem.fixes[r])
                after = int(problem.remedy_leaves[state, r])
                value = cost + best(left, after, checks, remedies - {r}).value
                if value < found.value:
                    found = Move(False, r, value)
        for c in sorted(checks):
            value = float(problem.check_cost[state, c]) * mass
            after = int(problem.check_leaves[state, c])
            for row in problem.checks[c] * w:
                if value >= found.value:
                    break
                value += best(row, after, checks - {c}, remedies).value
            if value < found.value:
                found = Move(True, c, value)
        memo[key] = Move(found.is_check, found.number, found.value / mass)
        return found

    return best(w, state, frozenset(checks), frozenset(range(len(problem.fixes))))
