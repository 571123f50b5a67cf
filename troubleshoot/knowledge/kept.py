"""The validated rule base kept as plain JSON, so that the YAML is read and checked once.

The key is a digest of every file of the rules and of the code that reads them: any change makes a
new one. Nothing executable is read back, only data that is validated again, and only from a folder
that belongs to the user and that nobody else can write to. Whatever is wrong with the copy, the
rules are read from their files.
"""

import contextlib
import hashlib
import os
import stat
from collections.abc import Sequence
from functools import cache
from pathlib import Path

from troubleshoot.knowledge.model import RuleBase

READERS = ("model", "load", "derivation", "effects", "drawings", "rows")
KEEP = 3  # copies of older rules that stay


def key_of(files: Sequence[Path]) -> str:
    """The digest of these files and of the modules that read them."""
    digest = hashlib.sha256(_readers())
    for path in files:
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:32]


@cache
def _readers() -> bytes:
    here = Path(__file__).parent
    return b"".join((here / f"{name}.py").read_bytes() for name in READERS)


def folder() -> Path:
    """Where the copies lie; `TROUBLESHOOT_CACHE` names another folder."""
    named = os.environ.get("TROUBLESHOOT_CACHE")
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_cache_dir("troubleshoot", appauthor=False))


def read(key: str) -> RuleBase | None:
    """The rule base kept under `key`, or None."""
    path = folder() / f"rules-{key}.json"
    if not (_mine(path.parent) and _mine(path)):
        return None
    try:
        return RuleBase.model_validate_json(path.read_bytes())
    except (OSError, ValueError):
        return None


def write(key: str, rules: RuleBase) -> None:
    """Keep a rule base; where that cannot be done nothing is lost but time."""
    target = folder() / f"rules-{key}.json"
    beside = target.with_name(f".{target.name}.{os.getpid()}.part")
    with contextlib.suppress(OSError):
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        beside.write_text(rules.model_dump_json(), encoding="utf-8")
        beside.chmod(0o600)
        os.replace(beside, target)
        older = sorted(target.parent.glob("rules-*.json"), key=lambda p: -p.stat().st_mtime)
        for path in older[KEEP:]:
            path.unlink()


def _mine(path: Path) -> bool:
    """It is there, belongs to the user, and nobody else may write to it."""
    try:
        found = path.stat()
    except OSError:
        return False
    if not hasattr(os, "getuid"):  # where there are no such owners the folder is the user's own
        return True
    return found.st_uid == os.getuid() and not found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
