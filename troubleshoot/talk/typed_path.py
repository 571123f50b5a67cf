"""What a file is named by at a prompt: typed, pasted or dropped onto the terminal."""

import os
from pathlib import Path
from urllib.parse import unquote


def path_of(typed: str) -> Path | None:
    """The path in what was typed, or dropped onto the terminal (quoted, or as a file address)."""
    text = typed.strip()
    if len(text) > 1 and text[0] == text[-1] and text[0] in "'\"":
        text = text[1:-1]
    if text.startswith("file://"):
        text = unquote("/" + text.removeprefix("file://").partition("/")[2])
    elif not os.path.exists(os.path.expanduser(text)):
        # A terminal puts a stroke before each blank of a name that is dropped onto it.
        text = text.replace("\\ ", " ")
    return Path(os.path.expanduser(text)) if text else None
