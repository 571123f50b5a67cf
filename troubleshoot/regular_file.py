"""Opening what a user names: regular files only, their size looked at first.

A FIFO waits for ever, a device such as /dev/zero never ends, and a file under /proc says that it
has no bytes and then has some; so what is no regular file is refused, and no more is read than may
be.
"""

import os
import stat
from pathlib import Path
from typing import BinaryIO

from troubleshoot.errors import UserError

HUGE = 4_000_000_000
"""Bytes of the largest file that is read bit by bit: a year of readings, many times a second."""


def open_regular(path: Path | str, most: int = HUGE) -> BinaryIO:
    """The file `path`, open for reading bytes; it has at most `most` of them.

    Raises `UserError` where it is missing, a folder, a device, a pipe, unreadable or larger.
    """
    try:
        # Without O_NONBLOCK the opening of a FIFO waits for somebody who writes.
        number = os.open(
            path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
    except FileNotFoundError:
        raise UserError(f"{path} does not exist: check the name and the folder.") from None
    except IsADirectoryError:
        raise UserError(f"{path} is a folder, not a file: name a file in it.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise UserError(f"{path} cannot be read ({reason}): check its name and rights.") from None
    try:
        about = os.fstat(number)
        if stat.S_ISDIR(about.st_mode):
            raise UserError(f"{path} is a folder, not a file: name a file in it.")
        if not stat.S_ISREG(about.st_mode):
            raise UserError(
                f"{path} is a device or a pipe, not a file: save what it gives to a file and name "
                "that."
            )
        if about.st_size > most:
            raise _too_large(path, most)
    except UserError:
        os.close(number)
        raise
    return os.fdopen(number, "rb")


def bytes_of(path: Path | str, most: int) -> bytes:
    """All bytes of the file `path`, at most `most`. Raises `UserError` as `open_regular` does."""
    with open_regular(path, most) as stream:
        try:
            content = stream.read(most + 1)
        except OSError as error:
            raise UserError(
                f"{path} cannot be read ({error.strerror}): check its rights."
            ) from None
    if len(content) > most:
        raise _too_large(path, most)
    return content


def _too_large(path: Path | str, most: int) -> UserError:
    return UserError(
        f"{path} is larger than {most / 1e6:,.2g} MB, the most that is read here: split it, or "
        "make it smaller."
    )
