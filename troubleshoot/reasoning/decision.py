"""Expected cost of repair: what to do first, on plain arrays that know nothing of coaters.

Words used here
    hypothesis  one of H explanations, of which one is true; `w` holds their (unnormalised) weights
    remedy      ends the problem with chance `fixes[remedy, hypothesis]`, seen at once
    check       has outcomes with P(outcome | hypothesis); afterwards it is not done again
    state       what the machine is in; costs depend on it and actions leave it changed
    price       the fall-back that ends the problem whatever it is
    a_bit       the price of learning one bit: what may be looked at later, beyond the moves that
                are weighed, costs what must still be learned to know the right remedy

All values are sums over the weights: cost times the weight that still has to pay it, so they need
no normalising. Policies of rising price and quality: `Problem.repair` (remedies only),
`Problem.moves` (one move, then remedies only), `one_step` (a move, one more, then remedies only),
`two_steps` (a move, two more, then remedies only); and `exact` for small problems.

Heckerman, Breese and Rommelse 1995, "Decision-theoretic troubleshooting", CACM 38(3):49-57; the
order by probability over cost goes back to Kadane and Simon 1977.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from troubleshoot.reasoning.findings import Floats, Ints

Bools = NDArray[np.bool_]

FALL_BACK = -1
FEW = 3  # remedies that a look ahead considers as the next move
AT_ONCE = 2000  # rows that are valued together: more of them leave the processor's cache
LARGEST = 2_000_000  # nodes that `exact` takes on


@dataclass(frozen=True)
class Move:
    """A check (`is_check`) or a remedy by its number, or the fall-back; `value` if taken first."""

    is_check: bool
    number: int
    value: float


def _times_log2(x: Floats) -> Floats:
    """x log2 x, 0 where x is."""
    log: Floats = np.log2(x, out=np.zeros_like(x), where=x > 0)
    return x * log


def _sorted(moves: Iterable[Move]) -> list[Move]:
    """Least value first; of equals, which rounding may not tell apart, checks first."""
    return sorted(moves, key=lambda m: (float(f"{m.value:.9g}"), not m.is_check, m.number))


@dataclass(frozen=True)
class Problem:
    """One troubleshooting problem.

    fixes (R, H); remedy_cost (S, R) and remedy_leaves (S, R), by the state one comes from; each of
    `checks` (outcomes, H); check_cost (S, C) and check_leaves (S, C); `price` of the fall-back.
    Remedies cost more than nothing.
    `sure_enough` (R,): a remedy is tried only where the share of weight it would fix is at least
    this (0 for all but "nothing is wrong").
    `a_bit`: None where nothing is left to look at beyond `checks`.
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
    a_bit: float | None = None

    @cached_property
    def _cheapest(self) -> Floats:
        """(H,) no plan ends the problem for less when the hypothesis is true."""
        cost = np.broadcast_to(self.remedy_cost.min(axis=0)[:, None], self.fixes.shape)
        each = np.where(self.fixes > 0, cost, self.price)
        return np.minimum(each.min(axis=0, initial=self.price), self.price)

    @cached_property
    def _ends(self) -> tuple[Floats, Floats]:
        """(H,) what ending each hypothesis costs once it is known, (H, K) 1 where it ends in way k.

        The way is the remedy with most chance for its cost, or the fall-back.
        """
        with np.errstate(divide="ignore"):
            each = np.min(self.remedy_cost, axis=0)[:, None] / self.fixes
        each = np.vstack([each, np.full(each.shape[1], self.price)])
        _, way = np.unique(each.argmin(axis=0), return_inverse=True)
        return each.min(axis=0), np.eye(way.max(initial=0) + 1)[way]

    def rest(self, w: Floats, mass: Floats) -> Floats:
        """(rows,) what is left to pay where no move is looked at any more: the fall-back.

        It costs `price`, or, where there is more to look at, `a_bit` for each bit of the entropy
        between the ways to end the problem (Shannon 1948), and then the right one of them.
        `mass`: the sum of each row of weights.
        """
        if self.a_bit is None:
            return mass * self.price
        cost, ways = self._ends
        bits = _times_log2(mass) - _times_log2(w @ ways).sum(axis=1)
        return np.minimum(mass * self.price, w @ cost + self.a_bit * bits)

    def gains(self, w: Floats, mass: Floats, open_: Bools) -> Floats:
        """Weight that each remedy would fix, (rows, R); 0 where it may not be tried.

        `mass`: the sum of each row of weights.
        """
        gain: Floats = w @ self.fixes.T
        gain *= open_
        if self._doubtful < len(self.sure_enough):
            some = gain[:, self._doubtful :]
            some[some < mass[:, None] * self.sure_enough[self._doubtful :]] = 0.0
        return gain

    @cached_property
    def _doubtful(self) -> int:
        """All remedies before this one may be tried however little they fix."""
        return next(iter(np.flatnonzero(self.sure_enough).tolist()), len(self.sure_enough))

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

    def repair_rows(self, w: Floats, state: Ints, open_: Bools) -> tuple[Floats, NDArray[np.intp]]:
        """`repair` with the remedies that may still be tried given for each row, (rows, R)."""
        if len(w) > AT_ONCE:
            parts = [slice(n, n + AT_ONCE) for n in range(0, len(w), AT_ONCE)]
            found = [self.repair_rows(w[p], state[p], open_[p]) for p in parts]
            return np.concatenate([b for b, _ in found]), np.concatenate([f for _, f in found])
        mass = w.sum(axis=1)
        best = self.rest(w, mass)
        first = np.full(len(w), FALL_BACK)
        row, left, at, may = np.arange(len(w)), w, state, open_.copy()
        spent, opening = np.zeros(len(w)), first
        for step in range(min(len(self.fixes), self.most_remedies)):
            gain = self.gains(left, mass, may)
            pick = np.argmax(gain / self.remedy_cost[at], axis=1)
            # A row is done when nothing is gained or even the cheapest ends could not improve it.
            going = gain[np.arange(len(row)), pick] > 0
            going &= spent + left @ self._cheapest < best[row]
            if not going.any():
                break
            if not going.all():
                pick, row, at, spent, mass = (rows[going] for rows in (pick, row, at, spent, mass))
                left, may, opening = left[going], may[going], opening[going]
            if step == 0:
                opening = pick
            spent = spent + self.remedy_cost[at, pick] * mass
            left = left * (1.0 - self.fixes[pick])
            may[np.arange(len(row)), pick] = False
            at = self.remedy_leaves[at, pick]
            mass = left.sum(axis=1)
            total = spent + self.rest(left, mass)
            better = total < best[row]
            best[row[better]] = total[better]
            first[row[better]] = opening[better]
        return best, first

    def moves(
        self, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int] = ()
    ) -> list[Move]:
        """Every move valued as if only remedies followed, best first."""
        return _moves_ahead(self, w, state, checks, tried, steps=0, few=len(self.fixes), floor=0.0)

    def nodes(self, w: Floats, checks: Sequence[int], tried: Sequence[int] = ()) -> int:
        """How many combinations of answers and failed remedies `exact` would visit."""
        answers = math.prod(len(self.checks[c]) + 1 for c in checks)
        return answers << len(self._useful(w, tried))

    def _useful(self, w: Floats, tried: Sequence[int]) -> list[int]:
        """The remedies left that could fix something, or move the machine to a cheaper state."""
        moved = self.remedy_leaves != np.arange(len(self.remedy_leaves))[:, None]
        useful = (self.fixes @ w > 0) | moved.any(axis=0)
        return [r for r in np.flatnonzero(useful).tolist() if r not in tried]


@dataclass(frozen=True)
class _Rows:
    """Situations, one a row: weights, state of the machine, remedies and checks that are left."""

    w: Floats
    state: Ints
    remedies: Bools
    checks: Bools

    def take(self, rows: NDArray[np.intp]) -> "_Rows":
        return _Rows(self.w[rows], self.state[rows], self.remedies[rows], self.checks[rows])


@dataclass(frozen=True)
class _Step:
    """Moves out of some rows: from which, what they cost, and the rows they lead to.

    `of` says which move each row of `after` belongs to: one for a remedy (it failed), one for each
    outcome of a check.
    """

    parent: Ints
    is_check: Bools
    number: Ints
    paid: Floats
    after: _Rows
    of: Ints

    def totals(self, values: Floats) -> Floats:
        """The value of each move when the rows it leads to are worth `values`."""
        return self.paid + np.bincount(self.of, weights=values, minlength=len(self.paid))


def _step(problem: Problem, rows: _Rows, few: int) -> _Step:
    """All checks left, and the `few` remedies that fix most for their cost."""
    mass = rows.w.sum(axis=1)
    gain = problem.gains(rows.w, mass, rows.remedies)
    order = np.argsort(-gain / problem.remedy_cost[rows.state], axis=1, kind="stable")[:, :few]
    parent, place = np.nonzero(np.take_along_axis(gain, order, axis=1) > 0)
    number = order[parent, place]
    state = rows.state[parent]
    after = rows.take(parent)
    after.remedies[np.arange(len(parent)), number] = False
    parents, numbers = [parent], [number]
    paid = [problem.remedy_cost[state, number] * mass[parent]]
    w = [after.w * (1.0 - problem.fixes[number])]
    states = [problem.remedy_leaves[state, number]]
    remedies, checks, of = [after.remedies], [after.checks], [np.arange(len(parent))]
    for c in np.flatnonzero(rows.checks.any(axis=0)):
        asked = np.flatnonzero(rows.checks[:, c])
        outcomes = problem.checks[c]
        again = np.repeat(asked, len(outcomes))
        left = rows.checks[again]
        left[:, c] = False
        of.append(sum(map(len, parents)) + np.repeat(np.arange(len(asked)), len(outcomes)))
        parents.append(asked)
        numbers.append(np.full(len(asked), c))
        paid.append(problem.check_cost[rows.state[asked], c] * mass[asked])
        w.append((rows.w[asked, None, :] * outcomes).reshape(len(again), -1))
        states.append(problem.check_leaves[rows.state[again], c])
        remedies.append(rows.remedies[again])
        checks.append(left)
    kinds = [np.full(len(p), k > 0) for k, p in enumerate(parents)]
    return _Step(
        parent=np.concatenate(parents),
        is_check=np.concatenate(kinds),
        number=np.concatenate(numbers),
        paid=np.concatenate(paid),
        after=_Rows(
            np.concatenate(w),
            np.concatenate(states),
            np.concatenate(remedies),
            np.concatenate(checks),
        ),
        of=np.concatenate(of),
    )


def _value(problem: Problem, rows: _Rows, steps: int, few: int, floor: float) -> Floats:
    """Value of each row when up to `steps` more moves of any kind come before remedies only.

    A row of less weight than `floor` is valued by remedies only.
    """
    best, _ = problem.repair_rows(rows.w, rows.state, rows.remedies)
    deep = np.flatnonzero(rows.w.sum(axis=1) > floor)
    if steps == 0 or not len(deep):
        return best
    step = _step(problem, rows.take(deep), few)
    totals = step.totals(_value(problem, step.after, steps - 1, few, floor))
    np.minimum.at(best, deep[step.parent], totals)
    return best


def _moves_ahead(
    problem: Problem,
    w: Floats,
    state: int,
    checks: Sequence[int],
    tried: Sequence[int],
    steps: int,
    few: int,
    floor: float,
) -> list[Move]:
    here = np.isin(np.arange(len(problem.checks)), list(checks))
    root = _Rows(w[None, :], np.array([state]), problem.untried(1, tried), here[None, :])
    step = _step(problem, root, few)
    totals = step.totals(_value(problem, step.after, steps, few, floor))
    moves = zip(step.is_check.tolist(), step.number.tolist(), totals.tolist(), strict=True)
    out = [Move(False, FALL_BACK, float(problem.rest(w[None, :], w.sum(keepdims=True))[0]))]
    return _sorted([*out, *(Move(*move) for move in moves)])


def look_ahead(
    problem: Problem,
    w: Floats,
    state: int,
    checks: Sequence[int],
    tried: Sequence[int] = (),
    steps: int = 1,
    width: int = 4,
    least: float = 0.05,
    small: int = 0,
) -> list[Move]:
    """Every move, best first, the promising ones valued with `steps` more moves before repairs.

    Promising: the `width` best checks as `Problem.moves` ranks them and the `FEW` remedies that
    fix most for their cost, at every step. An outcome whose share of the weight is not above
    `least` is valued by remedies only. A problem of at most `small` nodes is solved exactly.
    """
    if problem.nodes(w, checks, tried) <= small:
        return _exact(problem, w, state, checks, tried)
    plain = problem.moves(w, state, checks, tried)
    best = [m.number for m in plain if m.is_check][:width]
    floor = least * float(w.sum())
    ahead = _moves_ahead(problem, w, state, best, tried, steps, FEW, floor)
    looked = {(m.is_check, m.number) for m in ahead}
    return _sorted([*ahead, *(m for m in plain if (m.is_check, m.number) not in looked)])


def one_step(
    problem: Problem, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int] = ()
) -> Move:
    """The best move when one more move of any kind may follow it before remedies only."""
    return look_ahead(problem, w, state, checks, tried)[0]


def two_steps(
    problem: Problem,
    w: Floats,
    state: int,
    checks: Sequence[int],
    tried: Sequence[int] = (),
    width: int = 5,
    least: float = 0.05,
) -> list[Move]:
    """Every move, best first, the promising ones with two more moves before remedies only.

    `width` and `least` as in `look_ahead`; they bound the time.
    """
    return look_ahead(problem, w, state, checks, tried, steps=2, width=width, least=least)


def exact(
    problem: Problem, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int] = ()
) -> Move:
    """The best first move and the least possible value, by dynamic programming.

    Visits every combination of answers and failed remedies: for problems of a handful of checks
    and remedies; raises ValueError for more than `LARGEST` combinations. A remedy may be tried
    once, and only where it is sure enough.
    """
    return _exact(problem, w, state, checks, tried)[0]


def _exact(
    problem: Problem, w: Floats, state: int, checks: Sequence[int], tried: Sequence[int]
) -> list[Move]:
    """Every first move with its least possible value, best first.

    A node is (what was answered, which remedies have failed) for all machine states at once; only
    its weight is needed. Nodes are numbered so that one more answer or failure adds a fixed stride,
    and visited from "everything done" back to "nothing done".
    """
    nodes = problem.nodes(w, checks, tried)
    if nodes > LARGEST:
        raise ValueError(f"{nodes} nodes are too many to solve exactly (most: {LARGEST})")
    useful = problem._useful(w, tried)
    survive = np.ones((1, len(w)))
    for r in useful:
        survive = np.vstack([survive, survive * (1.0 - problem.fixes[r])])
    failed = np.arange(len(survive))[:, None] >> np.arange(len(useful)) & 1
    seen, answered = np.ones((1, len(w))), np.zeros((1, 0), dtype=np.intp)
    for c in checks:
        rows = np.vstack([np.ones(len(w)), problem.checks[c]])  # not asked, then each outcome
        answered = np.column_stack(
            [np.repeat(answered, len(rows), axis=0), np.tile(np.arange(len(rows)), len(seen))]
        )
        seen = (seen[:, None, :] * rows).reshape(-1, len(w))
    mass = ((seen * w) @ survive.T).ravel()
    asked = np.repeat(answered > 0, len(survive), axis=0)
    gone = np.tile(failed > 0, (len(seen), 1))
    left = mass * problem.price
    if problem.a_bit is not None:
        left = problem.rest(((seen * w)[:, None, :] * survive).reshape(-1, len(w)), mass)
    value = np.repeat(left[:, None], len(problem.remedy_cost), axis=1)

    def try_remedy(at: Ints, place: int, r: int) -> Floats:
        after = at + (1 << place)
        total = mass[at, None] * problem.remedy_cost[:, r]
        total += value[after][:, problem.remedy_leaves[:, r]]
        if problem.sure_enough.size:
            unsure = mass[at] - mass[after] < problem.sure_enough[r] * mass[at]
            total[unsure] = np.inf
        return total

    strides = [
        len(survive) * math.prod(len(problem.checks[d]) + 1 for d in checks[place + 1 :])
        for place in range(len(checks))
    ]

    def ask(at: Ints, place: int, c: int) -> Floats:
        after = at[:, None] + strides[place] * np.arange(1, len(problem.checks[c]) + 1)
        total = value[after].sum(axis=1)[:, problem.check_leaves[:, c]]
        return total + mass[at, None] * problem.check_cost[:, c]

    done = asked.sum(axis=1) + gone.sum(axis=1)
    for level in range(int(done.max()), 0, -1):
        at = np.flatnonzero(done == level)
        for place, r in enumerate(useful):
            rest = at[~gone[at, place]]
            value[rest] = np.minimum(value[rest], try_remedy(rest, place, r))
        for place, c in enumerate(checks):
            rest = at[~asked[at, place]]
            value[rest] = np.minimum(value[rest], ask(rest, place, c))
    start = np.zeros(1, dtype=np.intp)
    out = [Move(False, FALL_BACK, float(value[0, state]))]
    for place, r in enumerate(useful):
        out.append(Move(False, r, float(try_remedy(start, place, r)[0, state])))
    for place, c in enumerate(checks):
        out.append(Move(True, c, float(ask(start, place, c)[0, state])))
    return _sorted(m for m in out if np.isfinite(m.value))
