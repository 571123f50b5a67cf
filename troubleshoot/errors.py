"""The one kind of error that is the user's to mend: a clear sentence, exit status 2."""

import difflib
from collections.abc import Iterable

from troubleshoot.printable import sentence


class UserError(Exception):
    """Input that cannot be used.

    The message is one sentence that names the file, line or field and says what to do.
    The command line prints it without a traceback and exits with status 2. What it quotes from the
    input is cut and made fit to print.
    """

    def __init__(self, message: str) -> None:
        super().__init__(sentence(message))


class Interrupted(Exception):
    """The operator ended the program in the middle; its text says what is kept."""


FEW = 25
"""So many valid names are all told; of more the three that are nearest."""
LONGEST = 200
"""Letters of a word that are compared: comparing takes their square."""


def nearest(word: str, words: Iterable[str]) -> str:
    """` (did you mean 'x'?)` when some valid name is close, else nothing."""
    close = difflib.get_close_matches(word[:LONGEST], list(words), n=1, cutoff=0.6)
    return f" (did you mean {close[0]!r}?)" if close else ""


def instead(word: str, words: Iterable[str]) -> str:
    """What could stand there, in brackets: the name that is close, else those that there are."""
    names = list(words)
    if near := nearest(word, names):
        return near
    if len(names) > FEW:
        some = difflib.get_close_matches(word[:LONGEST], names, n=3, cutoff=0)
        return f" (one of {len(names)}, such as {', '.join(some)})"
    return f" (one of {', '.join(names)})"
