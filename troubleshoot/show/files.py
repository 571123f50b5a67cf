"""Putting a finished text where the user wants it: a file gets it whole or not at all."""

import contextlib
import os
import stat
import sys
from collections.abc import Iterable
from pathlib import Path

from troubleshoot.errors import UserError
from troubleshoot.regular_file import was_read

_BOOK = b"SQLite format 3\0"
"""How a casebook begins (the format's own description)."""
_MARK = 9
"""Bytes that tell one kind of file from another: `<!doctype`, `%PDF-1.7\\n`."""


def to_file(path: Path | str, text: str) -> Path:
    """Write `text` (UTF-8) to `path` and return the path. Raises `UserError`."""
    return _whole(path, [_encoded(text)])


def lines_to_file(path: Path | str, lines: Iterable[str]) -> Path:
    """Write lines (UTF-8) to `path` one by one and return the path. Raises `UserError`."""
    return _whole(path, (_encoded(f"{line}\n") for line in lines))


def bytes_to_file(path: Path | str, content: bytes) -> Path:
    """Write bytes to `path` and return the path. Raises `UserError`."""
    return _whole(path, [content])


def _encoded(text: str) -> bytes:
    # Lone surrogates (a name typed in another encoding) must not cost the whole report.
    return text.encode("utf-8", "replace")


def is_stdout(path: Path | str) -> bool:
    """Whether `path` means standard output."""
    return str(path) in ("-", "/dev/stdout", "/dev/fd/1", "/proc/self/fd/1")


def _whole(path: Path | str, parts: Iterable[bytes]) -> Path:
    """Write the parts to `path`.

    A regular file gets all or nothing: they go to a file beside it first, which takes its place and
    its rights in one step, so that a full disk or a pulled plug leaves the old file or the new one,
    never half of one. `-` is standard output; a device or a pipe is written into, never replaced.
    Raises `UserError` when the place cannot be written to.
    """
    try:
        if is_stdout(path):
            sys.stdout.flush()
            for part in parts:
                sys.stdout.buffer.write(part)
            sys.stdout.flush()
            return Path(path)
        there = os.stat(path) if os.path.exists(path) else None
        if there is not None and not stat.S_ISREG(there.st_mode):
            with open(path, "wb") as stream:
                for part in parts:
                    stream.write(part)
            return Path(path)
        return _in_its_place(path, parts, there)
    except BrokenPipeError:
        raise
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise UserError(
            f"{path} cannot be written ({reason}): choose a folder that exists and that you may "
            "write to."
        ) from None


def _in_its_place(path: Path | str, parts: Iterable[bytes], there: os.stat_result | None) -> Path:
    target = Path(os.path.realpath(path))
    beside = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with open(beside, "xb") as stream:
            if there is not None:
                os.chmod(beside, stat.S_IMODE(there.st_mode))
            for part in parts:
                stream.write(part)
            stream.flush()
            os.fsync(stream.fileno())
        if there is not None:
            _refuse_another(path, _beginning(target), _beginning(beside))
        os.replace(beside, target)
    except BaseException:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    return target


def _refuse_another(path: Path | str, old: bytes, new: bytes) -> None:
    """Raise `UserError` where a casebook would be lost, or what was read for this very page.

    A report that was opened again may be written anew: it holds the case as before.
    """
    if old.startswith(_BOOK):
        raise UserError(f"{path} is a casebook, and would be lost: choose another name.")
    if was_read(path) and old[:_MARK] != new[:_MARK]:
        raise UserError(f"{path} was read just now, and would be lost: choose another name.")


def _beginning(path: Path) -> bytes:
    with open(path, "rb") as stream:
        return stream.read(len(_BOOK))
