"""Putting a finished text on disk whole or not at all."""

import contextlib
import os
from pathlib import Path

from troubleshoot.errors import UserError


def to_file(path: Path | str, text: str) -> Path:
    """Write `text` (UTF-8) to `path` and return the path.

    The text goes to a file beside it first and takes its place in one step, so that a full disk
    or a pulled plug leaves the old file or the new one, never half of one. Raises `UserError`
    when the place cannot be written to.
    """
    target = Path(os.path.realpath(path))
    beside = target.with_name(f".{target.name}.{os.getpid()}.part")
    try:
        # Lone surrogates (a name typed in another encoding) must not cost the whole report.
        with open(beside, "xb") as stream:
            stream.write(text.encode("utf-8", "replace"))
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(beside, target)
    except OSError as error:
        with contextlib.suppress(OSError):
            beside.unlink()
        reason = (error.strerror or str(error)).lower()
        raise UserError(
            f"{path} cannot be written ({reason}): choose a folder that exists and that you may "
            "write to."
        ) from None
    return target
