"""The shape of a casebook, version by version: an older one is brought up to date and kept whole.

A version is an alembic revision in `versions/`, named by its number; the table `casebook` holds the
number that a casebook is of. Alembic is loaded where an older casebook is met, and only there.
"""

from pathlib import Path

import sqlalchemy as sa

from troubleshoot.casebook import words
from troubleshoot.casebook.schema import LATEST, META, VERSION
from troubleshoot.errors import UserError

FIRST = {"cases", "entries", "machines", "runs"}
"""The tables of version 0, which kept no version."""
LOCK = 7102
"""Any number, the same for every program that opens a casebook on a server."""


def bring_up_to_date(engine: sa.Engine, place: str) -> None:
    """Make the tables of an empty database, or take an older casebook to the latest shape.

    All in one transaction, during which no other program opens the casebook to change it. Raises
    `UserError` when the casebook is of a newer version, or a database of something else.
    """
    with engine.begin() as db:  # only a look: a casebook that cannot be written can still be read
        if _version(db, place) == LATEST:
            return
    with engine.execution_options(immediate=True).begin() as db:
        _wait_for_the_others(db, "pg_advisory_xact_lock")
        found = _version(db, place)
        if found is None:
            META.create_all(db)
            words.make(db)
            db.execute(VERSION.insert().values(version_num=str(LATEST)))
        elif found < LATEST:
            _upgrade(db, found)


def stays_as_it_is(db: sa.Connection, place: str) -> None:
    """To be said first in a transaction: nobody changes the shape of the casebook before its end.

    Raises `UserError` where another version of this program has done so since it was opened.
    """
    _wait_for_the_others(db, "pg_advisory_xact_lock_shared")
    version = _number(db, place)
    if version != LATEST:
        other = "a newer" if version > LATEST else "an older"
        raise UserError(
            f"{place} was made one of {other} version of this program while this one had it open "
            f"(casebook {version}; this one keeps {LATEST}): end this one and start the program "
            "anew; what was kept before is safe."
        )


def _wait_for_the_others(db: sa.Connection, lock: str) -> None:
    """On a server; SQLite's transactions do so by themselves."""
    if db.dialect.name == "postgresql":
        db.execute(sa.text(f"SELECT {lock}({LOCK})"))


def _upgrade(db: sa.Connection, found: int) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent))
    config.attributes["connection"] = db
    if found == 1:  # it kept its number in a column of another name
        db.execute(sa.text("DROP TABLE casebook"))
        command.stamp(config, "1")
    command.upgrade(config, "head")


def _version(db: sa.Connection, place: str) -> int | None:
    """The version of a casebook; None of an empty database."""
    look = sa.inspect(db)
    names = set(look.get_table_names())
    if not names:
        return None
    if VERSION.name not in names:
        if names >= FIRST:
            return 0
        raise UserError(
            f"{place} is not a casebook, but a database of something else: name another one, or a "
            "new and empty one."
        )
    version = _number(db, place)
    if version > LATEST:
        raise UserError(
            f"{place} was written by a newer version of this program (casebook {version}; this one "
            f"knows up to {LATEST}): install the newer one, or name another casebook."
        )
    return version


def _number(db: sa.Connection, place: str) -> int:
    numbers = db.execute(sa.text("SELECT * FROM casebook")).scalars().all()
    if len(numbers) != 1 or not str(numbers[0]).isdigit():
        raise UserError(
            f"{place} is not a usable casebook (it does not say of which version it is): put back "
            "its last backup (docs/casebook.md), or name another one."
        )
    return int(numbers[0])
