"""Files that are kept with a case (photographs, micrographs, logs), each once, by its content."""

import hashlib
import os
from collections.abc import Callable, Sequence
from contextlib import suppress
from itertools import permutations
from pathlib import Path

import sqlalchemy as sa

from troubleshoot.case.entries import Attached, Reading
from troubleshoot.case.journal import Entry
from troubleshoot.casebook.schema import CASE_FILES, FILES
from troubleshoot.casebook.store import Store
from troubleshoot.errors import UserError
from troubleshoot.regular_file import bytes_of, open_regular

LARGEST_FILE = 20_000_000
"""Bytes of one file at most: enough for a micrograph, too little for a film."""


def read_file(path: Path) -> bytes:
    """The bytes of a file that is to be kept. Raises `UserError`."""
    with open_regular(path) as file:
        size = os.fstat(file.fileno()).st_size
    if size > LARGEST_FILE:
        raise UserError(
            f"{path} has {size / 1e6:.0f} MB, and {LARGEST_FILE / 1e6:.0f} MB can be kept: "
            "make it smaller, or note where it lies with `troubleshoot cases note`."
        )
    return bytes_of(path, LARGEST_FILE)


def read_into(reading: Reading, named: Sequence[Path]) -> dict[Path, bytes]:
    """Of the files that were named, those that the reading was made from, by their content.

    A reading of two pictures has the digest of both digests. What is too large to be kept, or gone
    meanwhile, is left out.
    """
    held: dict[Path, bytes] = {}
    for path in named:
        with suppress(UserError, OSError):
            held[path] = read_file(path)
    names = {path: digest(content) for path, content in held.items()}
    for some in ((path,) for path in held), permutations(held, 2):
        for paths in some:
            told = [names[path] for path in paths]
            if reading.sha256 == (told[0] if not told[1:] else digest("".join(told).encode())):
                return {path: held[path] for path in paths}
    return {}


def attached(path: Path, content: bytes, note: str | None) -> Attached:
    """What the journal says of a file that is kept."""
    return Attached(name=path.name, sha256=digest(content), size=len(content), note=note)


def digest(content: bytes) -> str:
    """What a file is called in the casebook: the same content has the same name."""
    return hashlib.sha256(content).hexdigest()


def attach(store: Store, case: int, entry: Entry, content: bytes) -> None:
    """Keep a file and the entry that speaks of it, both or none."""
    store.save(case, entry, keeping(case, content))


def keeping(case: int, content: bytes) -> Callable[[sa.Connection], None]:
    """What puts a file beside a case, in a transaction that is running."""
    name = digest(content)

    def work(db: sa.Connection) -> None:
        put(db, content)
        mine = CASE_FILES.c.case_id == case, CASE_FILES.c.sha256 == name
        if db.scalar(sa.select(CASE_FILES.c.case_id).where(*mine)) is None:
            db.execute(CASE_FILES.insert().values(case_id=case, sha256=name))

    return work


def put(db: sa.Connection, content: bytes) -> bool:
    """Keep a file unless it is there; whether it is new."""
    name = digest(content)
    if db.scalar(sa.select(FILES.c.size).where(FILES.c.sha256 == name)) is not None:
        return False
    db.execute(FILES.insert().values(sha256=name, size=len(content), content=content))
    return True


def size_in_words(size: int) -> str:
    """`340 bytes`, `48 kB`, `3.2 MB`."""
    if size < 1000:
        return f"{size} bytes"
    return f"{size / 1000:.0f} kB" if size < 1e6 else f"{size / 1e6:.1f} MB"


def content_of(store: Store, sha256: str) -> bytes:
    """The bytes of a file. Raises `UserError` where they are not there, or are not the same."""
    with store.reading() as db:
        content = db.scalar(sa.select(FILES.c.content).where(FILES.c.sha256 == sha256))
    if content is None or digest(bytes(content)) != sha256:
        raise UserError(
            f"The file {sha256[:12]} is missing or damaged: put back the casebook's last backup."
        )
    return bytes(content)
