"""The one kind of error that is the user's to mend: a clear sentence, exit status 2."""

import difflib
from collections.abc import Iterable


class UserError(Exception):
    """Input that cannot be used.

    The message is one sentence that names the file, line or field and says what to do.
    The command line prints it without a traceback and exits with status 2.
    """


def nearest(word: str, words: Iterable[str]) -> str:
    """` (did you mean 'x'?)` when some valid name is close, else nothing."""
    close = difflib.get_close_matches(word, list(words), n=1, cutoff=0.6)
    return f" (did you mean {close[0]!r}?)" if close else ""
