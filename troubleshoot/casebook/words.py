"""All the words of a case, and what is found by them: FTS5 on SQLite, tsvector on PostgreSQL.

Both are given the same plain words (letters without accents, in lower case), so that they find the
same: every word asked for must begin some word of the case.
"""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from typing import Any

import sqlalchemy as sa

from troubleshoot.case.journal import Journal, standing

SILENT = {"rules", "machine", "engine", "hash", "sha256", "plot", "points", "numbers", "done",
          "reader", "replaces", "entry"}  # fmt: skip
"""Keys of entries that nobody would look for."""


def plain(text: str) -> list[str]:
    """The words of a text, so that "Größe", "grosse" and "GROSSE" are nearly the same."""
    folded = unicodedata.normalize("NFKD", text.casefold())
    letters = "".join(c for c in folded if not unicodedata.combining(c))
    return re.findall(r"[^\W_]+", letters)


def words_of(journal: Journal, *more: str | None) -> str:
    """Every word of the standing entries, and of what else is known by name."""
    said = [text for text in more if text]
    for entry in standing(journal):
        said += _texts({k: v for k, v in entry.data.items() if k not in SILENT})
    return " ".join(word for text in said for word in plain(text))


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, inner in value.items():
            if isinstance(inner, str | list | dict):
                yield from _texts(inner)
            yield from _texts(key) if isinstance(inner, list) else ()
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)


def make(db: sa.Connection) -> None:
    """The table of the words of all cases: its rows have the numbers of the cases."""
    for statement in (
        ("CREATE VIRTUAL TABLE words USING fts5(text)",)
        if db.dialect.name == "sqlite"
        else (
            "CREATE TABLE words (rowid INTEGER PRIMARY KEY, text TEXT NOT NULL)",
            "CREATE INDEX words_found ON words USING GIN (to_tsvector('simple', text))",
        )
    ):
        db.execute(sa.text(statement))


def keep(db: sa.Connection, case: int, text: str) -> None:
    """The words of a case take the place of what was kept of it."""
    forget(db, case)
    row = {"case": case, "text": text}
    db.execute(sa.text("INSERT INTO words (rowid, text) VALUES (:case, :text)"), row)


def forget(db: sa.Connection, case: int) -> None:
    """No word of the case is found any more."""
    db.execute(sa.text("DELETE FROM words WHERE rowid = :case"), {"case": case})


def found(dialect: str, asked: str, named: Sequence[str] = ()) -> sa.Subquery | None:
    """(case_id, badness) of the cases that hold all words asked for; None where none are asked.

    `named`: entries of the rule base by their IDs, any of which will do instead. Badness is the
    engine's own rank: the least is the best match.
    """
    wanted = plain(asked)
    if not wanted:
        return None
    if dialect == "sqlite":
        query = " OR ".join(
            [
                f"({' AND '.join(f'{chr(34)}{word}{chr(34)}*' for word in wanted)})",
                *(f'"{" ".join(plain(name))}"' for name in named),
            ]
        )
        look = sa.text(
            "SELECT rowid AS case_id, bm25(words) AS badness FROM words WHERE words MATCH :asked"
        )
    else:
        query = " | ".join(
            [
                f"({' & '.join(f'{word}:*' for word in wanted)})",
                *(f"({' <-> '.join(plain(name))})" for name in named),
            ]
        )
        look = sa.text(
            "SELECT rowid AS case_id, -ts_rank(to_tsvector('simple', text), q) AS badness "
            "FROM words, to_tsquery('simple', :asked) AS q "
            "WHERE to_tsvector('simple', text) @@ q"
        )
    return (
        look.bindparams(asked=query)
        .columns(sa.column("case_id", sa.Integer), sa.column("badness", sa.Float))
        .subquery("found")
    )
