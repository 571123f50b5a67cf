"""Expected cost of repair: what to do first, on plain arrays that know nothing of coaters.

Words used here
    hypothesis  one of H explanations, of which one is true; `w` holds their (unnormalised) weights
    remedy      ends the problem with chance `fixes[remedy, hypothesis]`, seen at once
    check       has outcomes with P(outcome | hypothesis); afterwards it is not done again
    state       what the machine is in; costs depend on it and actions leave it changed
    price       the fall-back that ends the problem whatever it is

All values are sums over the weights: cost times the weight that still has to pay it, so they need
no normalising. Policies of rising price and quality: `Problem.repair` (remedies only),
`Problem.moves` (one move, then remedies only), `one_step` (a move, one more, then remedies only),
`two_steps` (a move, two more, then remedies only); and `exact` for small problems.

Heckerman, Breese and Rommelse 1995, "Decision-theoretic troubleshooting", CACM 38(3):49-57; the
order by probability over cost goes back to Kadane and Simon 1977.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from troubleshoot.reasoning.findings import Floats, Ints

Bools = NDArray[np.bool_]

FALL_BACK = -1
FEW = 3  # remedies that a look ahead considers as the next move
LARGEST = 2_000_000  # nodes that `exact` takes on


@dataclass(frozen=True)
class Move:
    """A check (`is_check`) or a remedy by its number, or the fall-back; `value` if taken first."""

    is_check: bool
    number: int
    value: float


def _sorted(moves: Iterable[Move]) -> list[Move]:
    """Least value first; of equals, checks first."""
    return sorted(moves, key=lambda m: (m.value, not m.is_check, m.number))


@dataclass(frozen=True)
class Problem:
    """One troubleshooting problem.

    fixes (R, H); remedy_cost (S, R) and remedy_leaves (S, R), by the state one comes from; each of
    `checks` (outcomes, H); check_cost (S, C) and check_leaves (S, C); `price` of the fall-back.
    Remedies cost more than nothing.
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

    @cached_property
    def _cheapest(self) -> Floats:
        """(H,) no plan ends the problem for less when the hypothesis is true."""
        cost = np.broadcast_to(self.remedy_cost.min(axis=0)[:, None], self.fixes.shape)
        each = np.where(self.fixes > 0, cost, self.price)
        return np.minimum(each.min(axis=0, initial=self.price), self.price)

    def gains(self, w: Floats, open_: Bools) -> Floats:
        """Weight that each remedy would fix, (rows, R); 0 where it may not be tried."""
        gain = np.where(open_, w @ self.fixes.T, 0.0)
        if self.sure_enough.size:
            enough = self.sure_enough * w.sum(axis=1, keepdims=True)
            gain = np.where(gain >= enough, gain, 0.0)
        return gain

    def untried(self, rows: int, tried: Sequence[int]) -> Bools:
        """(rows, R) True for the remedies that are not in `tried`."""
        open_ = np.ones((rows, len(self.fixes)), dtype=bool)
        open_[:, list(tried)] = False
        return open_

    def repair(
        self, w: Floats, state: Ints, tried: Sequence[int] = ()
    ) -> tuple[Floats, NDArray[np.intp]]:
        """Value of trying remedies only, for rows of weights (rows, H), and the first of them.

        Greedy by chance to fix over cost, weights updated after each failure; of all prefixes of
        that order, followed by the fall-back, the cheapest. First is `FALL_BACK` for the empty one.
        Remedies in `tried` are not tried again.
        """
        return self.repair_rows(w, np.broadcast_to(state, len(w)), self.untried(len(w), tried))

    def repair_rows(
        self, w: Floats, state: Ints, open_: Bools
    ) -> tuple[Floats, NDArray[np.intp]]:
        """`repair` with the remedies that may still be tried given for each row, (rows, R)."""
        best = w.sum(axis=1) * self.price
        first = np.full(len(w), FALL_BACK)
        row, left, at, may = np.arange(len(w)), w, state, open_.copy()
        spent, opening = np.zeros(len(w)), first
        for step in range(min(len(self.fixes), self.most_remedies)):
            gain = self.gains(left, may)
            cost = self.remedy_cost[at]
            pick = np.argmax(gain / cost, axis=1)
            here = np.arange(len(row))
            # A row is done when nothing is gained or even the cheapest ends could not improve it.
            going = (gain[here, pick] > 0) & (spent + left @ self._cheapest < best[row])
            if not going.any():
                break
            here, pick, row, at = here[going], pick[going], row[going], at[going]
            left, may = left[going], may[going]
            spent = spent[going] + cost[here, pick] * left.sum(axis=1)
            opening = pick if step == 0 else opening[going]
            left = left * (1.0 - self.fixes[pick])
            may[np.arange(len(row)), pick] = False
            at = self.remedy_leaves[at, pick]
            total = spent + left.sum(axis=1) * self.price
            better = total < best[row]
            best[row[better]] = total[better]
            first[row[better]] = opening[better]
        return best, first

    def moves(
        self, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int] = ()
    ) -> list[Move]:
        """Every move valued as if only remedies followed, best first.

        The remedies-only value stands under its first remedy if that is less than the remedy's
        own; other remedies are valued as first moves too, because costs that depend on the state
        can make another order the better one.
        """
        root = _Rows(
            w[None, :],
            np.array([state]),
            self.untried(1, tried),
            np.isin(np.arange(len(self.checks)), list(checks))[None, :],
        )
        value, first = self.repair(root.w, root.state, tried)
        step = _Step(self, root, len(self.fixes))
        totals = step.totals(self.repair_rows(step.after.w, step.after.state, step.after.remedies))
        out = [Move(False, FALL_BACK, float(w.sum() * self.price))]
        for is_check, number, total in zip(step.is_check, step.number, totals[0], strict=True):
            if not is_check and number == first[0]:
                total = min(total, value[0])
            out.append(Move(bool(is_check), int(number), float(total)))
        return _sorted(out)
