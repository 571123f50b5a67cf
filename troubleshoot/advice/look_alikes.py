"""Which causes look alike, and what tells them apart best: from the rows of the rules alone.

How alike two causes are is how far all that they show overlaps: the product of the Bhattacharyya
coefficients, sum of sqrt(p q) over the answers, of all findings that may be asked (Bhattacharyya,
Bull. Calcutta Math. Soc. 35 (1943) 99, from memory): 1 for two causes that show the same, 0 where
one look settles it. The look that tells most is the one with the largest total variation distance,
half the sum of |p - q|.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from troubleshoot.knowledge.model import RuleBase

MOST = 3
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Contrast:
    """What tells a cause from another: a finding, and the answer that each makes likelier."""

    other: str
    finding: str
    here: str
    there: str


class LookAlikes:
    """How alike the causes of one rule base are."""

    def __init__(self, rules: RuleBase) -> None:
        self.rules = rules
        self._index = {name: n for n, name in enumerate(rules.causes)}

    @cached_property
    def _rows(self) -> dict[str, Floats]:
        """Finding -> P(answer | cause alone), shape (causes, answers), where a cause has a say."""
        out: dict[str, Floats] = {}
        for (cause, name), row in self.rules.rows.items():
            finding = self.rules.findings[name]
            if not self.rules.revealed_by[name]:
                continue
            if name not in out:
                sound = [finding.background[a] for a in finding.answers]
                out[name] = np.tile(sound, (len(self._index), 1))
            out[name][self._index[cause]] = [row[a] for a in finding.answers]
        return out

    def nearest(self, cause: str, most: int = MOST) -> tuple[Contrast, ...]:
        """The causes of the same complaints that look most like `cause`, the nearest first.

        Left out are those that need not be told apart from it, and looks that belong to other
        complaints.
        """
        mine, n = self.rules.causes[cause], self._index[cause]
        others = [
            other.id
            for other in self.rules.causes.values()
            if other.id != cause
            and other.id not in mine.alike
            and cause not in other.alike
            and mine.complaints.keys() & other.complaints.keys()
        ]
        names = [
            name
            for name in self._rows
            if any(self.rules.is_in_world(name, complaint) for complaint in mine.complaints)
        ]
        if not names or not others:
            return ()
        same = np.array(
            [np.log(np.sqrt(self._rows[f] * self._rows[f][n]).sum(axis=1)) for f in names]
        ).sum(axis=0)
        others.sort(key=lambda other: (-same[self._index[other]], other))
        return tuple(self._contrast(cause, other, names) for other in others[:most])

    def _contrast(self, cause: str, other: str, names: list[str]) -> Contrast:
        a, b = self._index[cause], self._index[other]
        more = {f: self._rows[f][a] - self._rows[f][b] for f in names}
        best = max(names, key=lambda f: (float(np.abs(more[f]).sum()), f))
        answers = list(self.rules.findings[best].answers)
        return Contrast(
            other, best, answers[int(more[best].argmax())], answers[int(more[best].argmin())]
        )
