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

import numpy as np
from numpy.typing import NDArray

from troubleshoot.knowledge.model import Finding

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True)
class Table:
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

    def probabilities(self, members: Ints) -> Floats:
        """P(answer | set), shape (sets, answers); a set is a row of indices padded with n."""
        if self.kind == "cure_test":
            return _cure_test(self, members)
        return combine(self.kind, self.background, self.loud, self.imposed, members)


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
    l_set = loud[..., members]
    silent = np.prod(1.0 - l_set, axis=-1)[..., None]
    b = background[..., None, :]
    if kind == "graded":
        r_set = np.cumsum(imposed, axis=-1)[..., members, :]
        below = np.prod(1.0 - l_set[..., None] * (1.0 - r_set), axis=-2)
        below = below - silent * (1.0 - np.cumsum(b, axis=-1))
        below[..., -1] = 1.0
        return np.diff(below, axis=-1, prepend=0.0)
    total = l_set.sum(axis=-1)[..., None]
    mixed = (l_set[..., None] * imposed[..., members, :]).sum(axis=-2)
    return silent * b + (1.0 - silent) * mixed / np.where(total > 0, total, 1.0)


def _cure_test(table: Table, members: Ints) -> Floats:
    present = table.says[members]
    gone = np.prod(np.where(present, table.rows[members, 0], 1.0), axis=1)
    out = np.empty((len(members), len(table.background)))
    out[:, 0] = gone
    if out.shape[1] == 2:
        out[:, 1] = 1.0 - gone
    else:
        same = np.prod(np.where(present, table.rows[members, 2], 1.0), axis=1)
        out[:, 2] = same
        out[:, 1] = np.maximum(1.0 - gone - same, 0.0)
    out[~np.any(present, axis=1)] = table.background
    return out


def compile_table(
    finding: Finding, causes: Sequence[str], rows: Mapping[tuple[str, str], Mapping[str, float]]
) -> Table:
    """The `Table` of `finding` over `causes` (in that order)."""
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
    return Table(finding.kind, b, q, says, loud, imposed)
