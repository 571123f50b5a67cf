"""The user's own folders, where the system keeps such things: for what is kept, and for copies."""

import os
from pathlib import Path

from troubleshoot.errors import UserError


def user_folder(kind: str, variable: str) -> Path:
    """The folder of that kind (`data`, `cache`); the environment's `variable` names another one.

    Raises `UserError` where the system knows of no home: it is nowhere then, not where one stands.
    """
    if named := os.environ.get(variable):
        return Path(named)
    import platformdirs

    try:
        found = getattr(platformdirs, f"user_{kind}_dir")("troubleshoot", appauthor=False)
    except RuntimeError:
        found = ""
    if not os.path.isabs(found):  # `~/…`, as older versions give it back
        raise UserError(
            f"Your home folder is not known here: set {variable} to a folder that can be written."
        )
    return Path(found)
