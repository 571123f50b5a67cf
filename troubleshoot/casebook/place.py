"""Where the user's data are: known without loading a database library."""

import os
import re
from pathlib import Path

from troubleshoot.user_folder import user_folder


def data_folder() -> Path:
    """The folder of the user's data; `TROUBLESHOOT_DATA` names another one. Raises `UserError`."""
    return user_folder("data", "TROUBLESHOOT_DATA")


def is_url(named: str) -> bool:
    """Whether a casebook is named by a URL; otherwise it is the path of an SQLite file."""
    return "://" in named


def shown(named: str | None) -> str:
    """What to call a casebook in print: its whole path, or its URL without the password.

    None: the one in the data folder. The options of a URL are left out, for they may hold one too.
    """
    if named is None:
        return str(data_folder() / "cases.db")
    if not is_url(named):
        try:
            return os.path.abspath(named)
        except FileNotFoundError:  # the folder in which the program was started is gone
            return named
    return re.sub(r"://([^/@:]*):.*@", r"://\1@", named).partition("?")[0]


def secrets_of(named: str | None) -> list[str]:
    """The passwords that a URL holds, as they stand there and as they are meant."""
    from urllib.parse import parse_qsl, unquote

    if named is None or not is_url(named):
        return []
    found = re.match(r"[^:]+://[^/@:]*:(.*)@", named)
    written = [found[1]] if found else []
    asked = parse_qsl(named.partition("?")[2])
    written += [value for key, value in asked if "password" in key]
    return [secret for text in written for secret in (text, unquote(text)) if secret]
