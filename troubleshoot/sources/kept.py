"""What texts mean, remembered."""

from collections.abc import Callable

MOST_KEPT = 1 << 14
"""Texts whose meaning is remembered; a day has 1440 minutes."""


class Kept(dict[str, float]):
    """What texts mean, worked out once each; all is forgotten when there are too many."""

    def __init__(self, meaning: Callable[[str], float]) -> None:
        super().__init__()
        self._meaning = meaning

    def __missing__(self, text: str) -> float:
        if len(self) >= MOST_KEPT:
            self.clear()
        value = self[text] = self._meaning(text)
        return value
