"""Which set each path of a long case held in every epoch."""

import numpy as np
from numpy.typing import NDArray

from troubleshoot.reasoning.findings import Ints

Short = NDArray[np.int32]


class Trail:
    """The sets of every path in each epoch, kept as what each epoch's rows came from.

    `now`: those of the epoch that is running. A long case copies no epoch that nobody looks at
    again. To look back far takes few steps: an epoch whose number is divisible by 2, 4, 8 ... also
    keeps what its rows were that long ago. What lies behind is kept in 32 bits: of a long case it
    is nearly all the memory that it takes.
    """

    def __init__(self, starts: Ints) -> None:
        self.now = starts
        self._sets: tuple[Short, ...] = (starts.astype(np.int32),)
        self._back: tuple[tuple[Short, ...], ...] = ((),)

    def then(self, now: Ints, rows: Ints) -> "Trail":
        """The trail with an epoch more, whose row i came from row `rows[i]` of the last one."""
        number, far = len(self._sets), 1
        back: list[Short] = [rows.astype(np.int32)]
        while number % (2 * far) == 0:
            back.append(self._back[number - far][len(back) - 1][back[-1]])
            far *= 2
        longer = Trail(now)
        longer._sets = (*self._sets, *longer._sets)
        longer._back = (*self._back, tuple(back))
        return longer

    def at(self, number: int, paths: Ints | None = None) -> Ints:
        """The sets of an epoch, a row for each path of now, or for each of these `paths`."""
        here = len(self._sets) - 1
        back: Ints | Short | None = paths
        if here == number:
            return self.now if paths is None else self.now[paths]
        while here > number:
            step = min(len(self._back[here]), (here - number).bit_length()) - 1
            rows = self._back[here][step]
            back = rows if back is None else rows[back]
            here -= 1 << step
        return self._sets[number][back].astype(np.intp)

    def all(self, paths: Ints | None = None) -> list[Ints]:
        """`at` every epoch."""
        return [self.at(number, paths) for number in range(len(self._sets))]
