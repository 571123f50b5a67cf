"""The first question of a live case, put before anything is loaded that it can do without.

The database library, numpy and the reasoning take longer to load than all that this question
needs: they are loaded while the operator reads it, and the casebook is opened after it.
"""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib import import_module
from threading import Timer

from troubleshoot.knowledge.model import RuleBase
from troubleshoot.show.teller import TerminalTeller
from troubleshoot.show.terminal import TerminalAsker
from troubleshoot.talk import signs

DRAWN = 0.1
"""Seconds after which the question stands on the screen, where nothing else runs beside it."""
NEXT = ("troubleshoot.cli.live",)


def danger_signs(rules: RuleBase) -> list[str]:
    """The danger signs that are there, asked at the terminal; no casebook is opened yet."""
    signs.begin(TerminalTeller())
    with _loading(NEXT):
        return signs.marked(TerminalAsker(), rules)


@contextmanager
def _loading(modules: tuple[str, ...]) -> Iterator[None]:
    """Load modules beside what is done in here, once its question stands on the screen."""

    def load() -> None:
        with suppress(Exception):  # who needs them loads them again, and tells what is wrong
            for name in modules:
                import_module(name)

    beside = Timer(DRAWN, load)
    beside.start()
    try:
        yield
    finally:
        beside.cancel()
