"""Opening what a user names: regular files only, their size looked at first.

A FIFO waits for ever, a device such as /dev/zero never ends, and a file under /proc says that it
has no bytes and then has some; so what is no regular file is refused, and no more is read than may
be. A disk or a server that fails while it is read is a sentence too.
"""

import io
import os
import stat
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from troubleshoot.errors import UserError

HUGE = 4_000_000_000
"""Bytes of the largest file that is read bit by bit: a year of readings, many times a second."""


PACKED = (b"PK\3\4", b"PK\5\6", b"\x1f\x8b", b"BZh", b"\xfd7zXZ\0", b"7z\xbc\xaf\x27\x1c",
          b"\x28\xb5\x2f\xfd")  # fmt: skip
"""How zip, gzip, bzip2, xz, 7z and zstd begin (each format's own description)."""


MOST_NAMES = 20_000
"""So many files and folders are looked at in what is called a folder of rules."""
_READ: set[str] = set()
"""Real paths of what was opened here since the program began."""


class _Read(io.FileIO):
    """A file that says in a sentence why it cannot be read on."""

    def __init__(self, number: int, path: Path | str) -> None:
        super().__init__(number, "rb")
        self._path = path

    def readinto(self, buffer: Any, /) -> int:
        try:
            # Nothing there yet is the end: nobody is waited for.
            return super().readinto(buffer) or 0
        except OSError as error:
            raise _unreadable(self._path, error) from None

    def readall(self) -> bytes:
        try:
            return super().readall() or b""
        except OSError as error:
            raise _unreadable(self._path, error) from None


def special(path: Path | str) -> str | None:
    """What stands at `path` instead of a file: `a folder`, `a device or a pipe`.

    None for a file, and where nothing is. It is only looked at: to open a device may set it going.
    """
    try:
        about = os.stat(path)
    except (OSError, ValueError):
        return None
    return _instead_of_a_file(about)


def _instead_of_a_file(about: os.stat_result) -> str | None:
    if stat.S_ISDIR(about.st_mode):
        return "a folder"
    return None if stat.S_ISREG(about.st_mode) else "a device or a pipe"


def is_of_the_system(path: Path | str) -> bool:
    """Whether it is made up by the system as it is read, as those under /proc are.

    Such a file says that it is empty, and lies where there is room for nothing. /proc/kmsg looks
    like any other, and makes its reader wait.
    """
    try:
        room = os.statvfs(path)
        return os.stat(path).st_size == room.f_blocks == room.f_files == 0
    except (AttributeError, OSError, ValueError):  # Windows has neither the one nor the other
        return False


def open_regular(path: Path | str, most: int = HUGE) -> io.BufferedReader:
    """The file `path`, open for reading bytes; it has at most `most` of them.

    Raises `UserError` where it is missing, a folder, a device, a pipe, unreadable or larger.
    """
    _refuse(path, special(path))
    try:
        # Without O_NONBLOCK the opening of a FIFO waits for somebody who writes.
        number = os.open(
            path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
    except FileNotFoundError:
        raise UserError(f"{path} does not exist: check the name and the folder.") from None
    except (OSError, ValueError) as error:
        raise _unreadable(path, error) from None
    try:
        about = os.fstat(number)
        _refuse(path, _instead_of_a_file(about))  # it may be another one by now
        if about.st_size > most:
            raise _too_large(path, most)
    except UserError:
        os.close(number)
        raise
    _READ.add(os.path.realpath(path))
    return io.BufferedReader(_Read(number, path))


def was_read(path: Path | str) -> bool:
    """Whether the file was opened for reading since the program began, by whatever name."""
    return os.path.realpath(path) in _READ


def _refuse(path: Path | str, instead: str | None) -> None:
    if instead is not None:
        remedy = (
            "name a file in it"
            if instead == "a folder"
            else "save what it gives to a file and name that"
        )
        raise UserError(f"{path} is {instead}, not a file: {remedy}.")


def bytes_of(path: Path | str, most: int) -> bytes:
    """All bytes of the file `path`, at most `most`. Raises `UserError` as `open_regular` does."""
    with open_regular(path, most) as stream:
        content = stream.read(most + 1)
    if len(content) > most:
        raise _too_large(path, most)
    return content


@contextmanager
def staying(path: Path | str) -> Iterator[None]:
    """While a file is read more than once. Raises `UserError` where it became another, or less.

    One that only grows is a log that somebody still writes; what was read of it is true.
    """
    before = _look(path)
    changed = UserError(f"{path} was changed while it was read: read it again once it is whole.")
    try:
        yield
    except Exception:
        if _became_another(before, _look(path)):
            raise changed from None
        raise
    if _became_another(before, _look(path)):
        raise changed


def _look(path: Path | str) -> os.stat_result | None:
    try:
        return os.stat(path)
    except (OSError, ValueError):
        return None


def _became_another(before: os.stat_result | None, now: os.stat_result | None) -> bool:
    if before is None or now is None:
        return before is not now
    if (before.st_dev, before.st_ino) != (now.st_dev, now.st_ino):
        return True
    written = before.st_mtime_ns != now.st_mtime_ns
    return now.st_size < before.st_size or (written and now.st_size == before.st_size)


def refuse_packed(path: Path | str, head: bytes) -> None:
    """Raises `UserError` where a file begins as a packed one does: nothing is unpacked here."""
    if head.startswith(PACKED):
        raise UserError(f"{path} is packed: unpack it and name the file that is in it.")


def files_below(folder: Path, ending: str) -> list[Path]:
    """The files in `folder` and all below it with that ending, in the order of their paths.

    No link to a folder is followed. Raises `UserError` where more than `MOST_NAMES` lie there.
    """
    found, looked_at = [], 0
    for here, folders, names in os.walk(folder):
        looked_at += len(folders) + len(names)
        if looked_at > MOST_NAMES:
            raise UserError(
                f"{folder} holds more than {MOST_NAMES:,} files: name the folder of the rules "
                "itself."
            )
        found += [Path(here, name) for name in names if name.endswith(ending)]
    return sorted(path for path in found if os.path.isfile(path))


def _unreadable(path: Path | str, error: OSError | ValueError) -> UserError:
    reason = getattr(error, "strerror", None) or str(error)
    return UserError(f"{path} cannot be read ({reason}): check its name and rights.")


def _too_large(path: Path | str, most: int) -> UserError:
    return UserError(
        f"{path} is larger than {most / 1e6:,.2g} MB, the most that is read here: split it, or "
        "make it smaller."
    )
