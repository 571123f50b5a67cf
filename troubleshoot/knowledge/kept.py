"""The validated rule base kept as plain JSON, so that the YAML is read and checked once.

The key is a digest of every file of the rules and of the code that reads them: any change makes a
new one. Nothing executable is read back, only plain data with its own digest above it, and only
from a folder that belongs to the user and that nobody else can write to. Whatever is wrong with the
copy, the rules are read from their files.
"""

import contextlib
import hashlib
import json
import os
import stat
from collections.abc import Sequence
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

from troubleshoot.errors import UserError
from troubleshoot.knowledge import derivation, model
from troubleshoot.knowledge.model import RuleBase
from troubleshoot.user_folder import user_folder

KIND = "!"  # the key that says which record a JSON object is; no key of a rule can be called so
KINDS: dict[str, Any] = {
    name: cls
    for module in (model, derivation)
    for name, cls in vars(module).items()
    if is_dataclass(cls)
}
READERS = ("model", "load", "coats", "derivation", "effects", "drawings", "rows")
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
    """Where the copies lie; `TROUBLESHOOT_CACHE` names another folder. Raises `UserError`."""
    return user_folder("cache", "TROUBLESHOOT_CACHE")


def read(key: str) -> RuleBase | None:
    """The rule base kept under `key`, or None."""
    try:
        path = folder() / f"rules-{key}.json"
        if not (_mine(path.parent) and _mine(path)):
            return None
        digest, _, text = path.read_bytes().partition(b"\n")
    except (OSError, UserError):
        return None
    if digest != _digest(text):
        return None
    rules: RuleBase = json.loads(text, object_hook=_record)
    return rules


def write(key: str, rules: RuleBase) -> None:
    """Keep a rule base; where that cannot be done nothing is lost but time."""
    with contextlib.suppress(OSError, UserError):
        target = folder() / f"rules-{key}.json"
        beside = target.with_name(f".{target.name}.{os.getpid()}.part")
        target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        text = json.dumps(rules, default=_plain).encode()
        beside.write_bytes(_digest(text) + b"\n" + text)
        beside.chmod(0o600)
        os.replace(beside, target)
        older = sorted(target.parent.glob("rules-*.json"), key=lambda p: -p.stat().st_mtime)
        for path in older[KEEP:]:
            path.unlink()


def _plain(record: Any) -> dict[str, Any]:
    """A record as a mapping that names its kind."""
    names = (f.name for f in fields(record))
    return {KIND: type(record).__name__, **{name: getattr(record, name) for name in names}}


def _record(found: dict[str, Any]) -> Any:
    """What `_plain` made of a record, as a record again; any other mapping as it is."""
    kind = found.pop(KIND, None)
    if kind is None:
        return found
    if kind in vars(derivation):  # what the engines keep by its hash
        found = {k: tuple(v) if isinstance(v, list) else v for k, v in found.items()}
    record = object.__new__(KINDS[kind])  # `_plain` wrote all fields: none is left to its default
    vars(record).update(found)
    return record


def _digest(text: bytes) -> bytes:
    return hashlib.sha256(text).hexdigest().encode()


def _mine(path: Path) -> bool:
    """It is there, belongs to the user, and nobody else may write to it."""
    try:
        found = path.stat()
    except OSError:
        return False
    if not hasattr(os, "getuid"):  # where there are no such owners the folder is the user's own
        return True
    return found.st_uid == os.getuid() and not found.st_mode & (stat.S_IWGRP | stat.S_IWOTH)
