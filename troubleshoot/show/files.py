"""Putting a finished text on disk whole or not at all."""

import contextlib
import os
from collections.abc import Iterable
from pathlib import Path

from troubleshoot.errors import UserError


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


def _whole(path: Path | str, parts: Iterable[bytes]) -> Path:
    """Write the parts to `path`, all or nothing.

    They go to a file beside it first, which takes its place in one step, so that a full disk or a
    pulled plug leaves the old file or the new one, never half of one. Raises `UserError` when the
    place cannot be written to.
    """
    target = Path(os.path.realpath(path))
    beside = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        with open(beside, "xb") as stream:
            for part in parts:
                stream.write(part)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(beside, target)
    except UserError:  # what was to be written cannot be had
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink()
        reason = (error.strerror or str(error)).lower()
        raise UserError(
            f"{path} cannot be written ({reason}): choose a folder that exists and that you may "
            "write to."
        ) from None
    return target
