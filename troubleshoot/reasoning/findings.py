"""P(answer | a set of causes) for one finding: how several causes combine.

A cause's row q and the background b split exactly into "the cause speaks" and "it is silent":
1 - l = min over answers of q/b, r = (q - (1 - l) b)/l. A present cause speaks with chance l and
then imposes r; the background speaks only if no cause does, with chance N = prod(1 - l). Then

* yes/no, choice and two-sided: P(a) = N b + (1 - N) sum(l r)/sum(l); for a yes/no finding whose
  causes all push one way this is the leak-excluded noisy-OR;
* graded (answers ordered): P(<= a) = prod(1 - l + l R) - N (1 - B) with cumulative R and B, which
  is a noisy-MAX whose background is heard only when nothing else is;
* cure test ("did it go away?"): the chances to go away multiply over the causes present, since
  relieving one of two does not cure; so do the chances to stay the same; the rest is "less".

With a single cause every formula gives back that cause's own row. Noisy-OR and -MAX: Henrion 1989;
Diez 1993, "Parameter adjustment in Bayes networks: the generalized noisy OR-gate".
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from troubleshoot.knowledge.model import Finding

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Likelihoods:
    """One finding, compiled. Index n (one past the last cause) stands for "no cause here".

    kind; background b, shape (answers,); rows q, shape (causes + 1, answers), the background where
    a cause has no say; says, shape (causes + 1,), whether it has one; l and r of the split.
    """

    kind: str
    background: Floats
    rows: Floats
    says: NDArray[np.bool_]
    loud: Floats
    imposed: Floats

    def bearing(self, members: Ints) -> Ints:
        """The rows of `members` that hold a cause with a say; all others show the background."""
        return np.flatnonzero(over(np.logical_or, self.says, members))

    def probabilities(self, members: Ints) -> Floats:
        """P(answer | set), shape (sets, answers); a set is a row of indices padded with n."""
        rows = self.bearing(members)
        return self.spread(rows, self.spoken(members[rows]), len(members))

    def spoken(self, members: Ints) -> Floats:
        """`probabilities` of sets that all hold a cause with a say."""
        if self.kind == "cure_test":
            return _cure_test(self, members)
        return combine(self.kind, self.background, self.loud, self.imposed, members)

    def spread(self, rows: Ints, spoken: Floats, sets: int) -> Floats:
        """P(answer | set) for so many sets, of which those in `rows` do not show the background."""
        out = np.empty((sets, len(self.background)))
        out[:] = self.background
        out[rows] = spoken
        return out


def over(join: np.ufunc, of_cause: NDArray[Any], members: Ints) -> NDArray[Any]:
    """What each cause contributes, joined over the causes of a set: shape (..., sets).

    Column by column, because sets are few causes wide and numpy is slow at short axes.
    """
    out: NDArray[Any] = of_cause[..., members[:, 0]]
    for column in members.T[1:]:
        out = join(out, of_cause[..., column])
    return out


def split(rows: Floats, background: Floats) -> tuple[Floats, Floats]:
    """(l, r) of rows q (..., causes + 1, answers) against a background b (..., answers)."""
    ratio = rows / background[..., None, :]
    loud = 1.0 - ratio.min(axis=-1)
    loud = np.where(loud < 1e-12, 0.0, loud)
    speaks = loud[..., None] > 0
    safe = np.where(speaks, loud[..., None], 1.0)
    imposed = (rows - (1.0 - loud)[..., None] * background[..., None, :]) / safe
    return loud, np.where(speaks, np.clip(imposed, 0.0, 1.0), background[..., None, :])


def combine(kind: str, background: Floats, loud: Floats, imposed: Floats, members: Ints) -> Floats:
    """P(answer | set) for graded and unordered findings, shape (..., sets, answers).

    background (..., answers), loud (..., causes + 1), imposed (..., causes + 1, answers); leading
    axes are for many versions of the numbers at once.
    """
    silent = over(np.multiply, 1.0 - loud, members)[..., None]
    b = background[..., None, :]
    if kind == "graded":
        reach = 1.0 - loud[..., None] * (1.0 - np.cumsum(imposed, axis=-1))
        below = _answers_over(np.multiply, reach, members)
        below -= silent * (1.0 - np.cumsum(b, axis=-1))
        below[..., -1] = 1.0
        below[..., 1:] -= below[..., :-1].copy()
        return below
    total = over(np.add, loud, members)[..., None]
    mixed = _answers_over(np.add, loud[..., None] * imposed, members)
    return silent * b + (1.0 - silent) * mixed / np.where(total > 0, total, 1.0)


def _answers_over(join: np.ufunc, of_cause: Floats, members: Ints) -> Floats:
    """As `over`, for what a cause contributes to each answer: shape (..., sets, answers)."""
    out: Floats = of_cause[..., members[:, 0], :]
    for column in members.T[1:]:
        out = join(out, of_cause[..., column, :])
    return out


def _cure_test(table: Likelihoods, members: Ints) -> Floats:
    """Of sets that all hold a cause with a say."""
    rows = np.where(table.says[:, None], table.rows, 1.0)
    gone = over(np.multiply, rows[:, 0], members)
    if len(table.background) == 2:
        return np.column_stack([gone, 1.0 - gone])
    same = over(np.multiply, rows[:, 2], members)
    return np.column_stack([gone, np.maximum(1.0 - gone - same, 0.0), same])


def compile_table(
    finding: Finding, causes: Sequence[str], rows: Mapping[tuple[str, str], Mapping[str, float]]
) -> Likelihoods:
    """The `Likelihoods` of `finding` over `causes` (in that order)."""
    answers = list(finding.answers)
    b = np.array([finding.background[a] for a in answers])
    b = b / b.sum()
    q = np.tile(b, (len(causes) + 1, 1))
    says = np.zeros(len(causes) + 1, dtype=bool)
    for n, cause in enumerate(causes):
        row = rows.get((cause, finding.id))
        if row is not None:
            q[n] = [row[a] for a in answers]
            says[n] = True
    loud, imposed = split(q, b)
    return Likelihoods(finding.kind, b, q, says, loud, imposed)
