"""A connection to where cases are kept: an SQLite file, or a PostgreSQL server."""

import contextlib
import os
import sqlite3
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa

from troubleshoot.casebook.place import is_url
from troubleshoot.errors import UserError
from troubleshoot.regular_file import is_of_the_system, special

SERVER = "postgresql+psycopg"
SCHEMES = ("sqlite", "postgresql", "postgres", SERVER)
PATIENCE = 30.0
"""Seconds for which a writer waits for the others."""
CONNECT = 10
"""Seconds after which a server that does not answer is given up."""
LOGS = ("-journal", "-wal", "-shm")
"""What SQLite keeps beside its file."""


def connect(named: str | None, place: str) -> sa.Engine:
    """The engine of a casebook, tried once. Raises `UserError` for a name that leads nowhere."""
    remedy = "write the path of an SQLite file, or a URL such as postgresql://user@server/casebook"
    try:
        if named is not None and is_url(named):
            url = sa.make_url(named)
        else:
            url = sa.URL.create("sqlite", database=place)
        if url.drivername not in SCHEMES:
            raise UserError(f"{place}: cases are kept in SQLite or PostgreSQL only; {remedy}.")
        if url.drivername == "sqlite":
            _refuse_special(url, place)
            return _opened(url)
        # A server that does not answer is told soon, and one that was away is asked again.
        engine = sa.create_engine(
            url.set(drivername=SERVER),
            connect_args={"connect_timeout": CONNECT},
            pool_pre_ping=True,
        )
        engine.connect().close()
    except ImportError as error:
        raise UserError(
            f"{place} needs a driver that is not installed ({error}): install it with "
            "pip install 'sputter-troubleshoot[postgres]'."
        ) from None
    except (sa.exc.ArgumentError, TypeError, ValueError) as error:
        reason = str(error).splitlines()[0].rstrip(".")
        raise UserError(f"{place} is not a usable casebook ({reason}): {remedy}.") from None
    return engine


def _refuse_special(url: sa.URL, place: str) -> None:
    """SQLite would wait for a device or a pipe, also for one beside the file, where its log is."""
    # A name that is an SQLite URI itself; sqlalchemy has taken its options off.
    path = (url.database or "").removeprefix("file:")
    if path and is_of_the_system(path):
        raise UserError(f"{place} is made up by the system: name a file with --casebook.")
    for ending in ("", *LOGS) if path else ():
        if what := special(path + ending):
            remedy = "take it away, or name another file" if ending else "name a file"
            raise UserError(f"{place}{ending} is {what}: {remedy} with --casebook.")


def _opened(url: sa.URL) -> sa.Engine:
    """An SQLite file, tried once; one in a place that may only be read is opened to be read."""
    if _is_at_rest(url.database) and not os.access(str(url.database), os.W_OK):
        # Who may only read would leave a log of his own beside it, and lock its owner out.
        return _to_be_read(url)
    engine = sa.create_engine(url, connect_args={"timeout": PATIENCE})
    _our_own_ways(engine)
    try:
        engine.connect().close()
    except sa.exc.OperationalError as error:
        name = getattr(error.orig, "sqlite_errorname", "")
        if not name.startswith("SQLITE_CANTOPEN") or not _is_at_rest(url.database):
            raise
        # Even to read, its log wants a file of its own beside it, which cannot be made there.
        return _to_be_read(url)
    return engine


def _to_be_read(url: sa.URL) -> sa.Engine:
    """An SQLite file at rest, opened so that nothing is made beside it."""
    whole = quote(os.path.abspath(str(url.database)))
    engine = sa.create_engine(f"sqlite:///file:{whole}?mode=ro&immutable=1&uri=true")
    _our_own_ways(engine)
    engine.connect().close()
    return engine


def _is_at_rest(path: str | None) -> bool:
    """Whether the file is there, and no other program has it open: then its log would be there."""
    return path is not None and os.path.isfile(path) and not os.path.exists(f"{path}-wal")


def _our_own_ways(engine: sa.Engine) -> None:
    """SQLite for several programs at once.

    Transactions are begun here, so that tables and columns roll back too. One that will write
    says so at its beginning (`immediate`): it waits for its turn then, and is never refused in its
    midst. The log that is written ahead lets everybody read meanwhile.
    """

    @sa.event.listens_for(engine, "connect")
    def _(connection: Any, record: Any) -> None:
        connection.isolation_level = None
        (mode,) = connection.execute("PRAGMA journal_mode").fetchone()
        if mode == "delete":
            # Where it cannot be changed (read only; somebody is doing it) the file works as it is.
            with contextlib.suppress(sqlite3.OperationalError):
                connection.execute("PRAGMA journal_mode=WAL")

    @sa.event.listens_for(engine, "begin")
    def _(db: sa.Connection) -> None:
        immediate = db.get_execution_options().get("immediate")
        db.exec_driver_sql("BEGIN IMMEDIATE" if immediate else "BEGIN")
