"""A casebook of every older version, as the program of that version left it, on either engine."""

import shutil
from pathlib import Path

import sqlalchemy as sa

from troubleshoot.casebook import words

FIXTURES = Path(__file__).parent / "fixtures"
OLDER = {int(p.stem.removeprefix("store_v")): p for p in FIXTURES.glob("store_v*.sqlite")}
"""The file of each version: an SQLite casebook."""


def left_by(version: int, named: str) -> None:
    """Fill an empty casebook with that of a version: its file, or on a server table by table."""
    url = sa.make_url(named)
    if url.drivername == "sqlite":
        shutil.copy(OLDER[version], str(url.database))
        return
    tables, source = sa.MetaData(), sa.create_engine(f"sqlite:///{OLDER[version]}")
    sa.event.listen(tables, "column_reflect", _any_engine)
    tables.reflect(source, only=lambda name, _: not name.startswith("words"))
    target = sa.create_engine(named)
    with source.connect() as old, target.begin() as new:
        tables.create_all(new)
        for table in tables.sorted_tables:
            for row in old.execute(table.select()).mappings():
                new.execute(table.insert().values(**row))
        if sa.inspect(old).has_table("words"):  # of a kind of its own on each engine
            words.make(new)
            for case, text in old.execute(sa.text("SELECT rowid, text FROM words")):
                words.keep(new, case, text)
    target.dispose()


def _any_engine(inspector, table, column):
    column["type"] = column["type"].as_generic()
