"""Which set each path of a long case held in every epoch."""

from troubleshoot.reasoning.findings import Ints


class Trail:
    """The sets of every path in each epoch, kept as what each epoch's rows came from.

    A long case copies no epoch that nobody looks at again. To look back far takes few steps: an
    epoch whose number is divisible by 2, 4, 8 ... also keeps what its rows were that long ago.
    """

    def __init__(self, starts: Ints) -> None:
        self._sets, self._back = [starts], list[list[Ints]]([[]])

    @property
    def now(self) -> Ints:
        """The sets of the epoch that is running."""
        return self._sets[-1]

    def add(self, now: Ints, rows: Ints) -> None:
        """A new epoch, whose row i came from row `rows[i]` of the last one."""
        number, back, far = len(self._sets), [rows], 1
        while number % (2 * far) == 0:
            back.append(self._back[number - far][len(back) - 1][back[-1]])
            far *= 2
        self._sets.append(now)
        self._back.append(back)

    def at(self, number: int) -> Ints:
        """The sets of an epoch, a row for each path of now."""
        here, back = len(self._sets) - 1, None
        while here > number:
            step = min(len(self._back[here]), (here - number).bit_length()) - 1
            rows = self._back[here][step]
            back = rows if back is None else rows[back]
            here -= 1 << step
        return self._sets[number] if back is None else self._sets[number][back]

    def all(self) -> list[Ints]:
        """The sets of every epoch, a row for each path of now."""
        return [self.at(number) for number in range(len(self._sets))]
