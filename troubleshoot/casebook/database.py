"""The database of a casebook: one transaction at a time, in SQL that SQLite and PostgreSQL share.

A transaction is a function of a statement and its values, which stand in it as `:name`; it gives
the rows as mappings. The drivers are loaded when a database is opened: a program that opens none
loads none.
"""

import re
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import Any, Protocol
from urllib.parse import quote

from troubleshoot.errors import UserError

LOCK = 7102
"""Any number, the same for every program that opens a casebook on a server."""
MISSING_FOR = 10
"""Seconds after which a server that does not answer is said to be away."""
REMEDY = "write the path of an SQLite file, or a URL such as postgresql://user@server/casebook"
_SERVER = ("postgresql", "postgres", "postgresql+psycopg")

Row = dict[str, Any]


class Failure(Exception):
    """What a driver says went wrong, in one line."""


class Taken(Exception):
    """A row of that key is there already."""


class Transaction(Protocol):
    """Runs one statement and gives its rows."""

    def __call__(self, sql: str, **values: object) -> list[Row]: ...


class Database(Protocol):
    """An open database. `number` declares a key that counts itself up."""

    number: str

    def transaction(self, alone: bool = False) -> AbstractContextManager[Transaction]:
        """All or nothing. `alone`: another program that asks for the same waits until it is done.

        Raises `Taken` and `Failure`.
        """

    def tables(self, do: Transaction) -> set[str]:
        """The names of its tables."""


def open_database(named: str, shown: str) -> Database:
    """The database of that URL or path; `shown` is its name in print.

    Raises `UserError` for a name that leads nowhere and `Failure` where there is no database.
    """
    scheme, url, rest = named.partition("://")
    if not url:
        return _Sqlite(named)
    if scheme in _SERVER:
        return _Postgres(rest, shown)
    if scheme != "sqlite":
        raise UserError(f"{shown}: cases are kept in SQLite or PostgreSQL only; {REMEDY}.")
    server, _, path = rest.partition("/")
    if server:
        raise UserError(f"{shown} is not a usable casebook (SQLite has no server): {REMEDY}.")
    path, asked, options = path.partition("?")
    if not asked:
        return _Sqlite(path or ":memory:")
    uri = path if path.startswith("file:") else f"file:{quote(path)}"
    return _Sqlite(f"{uri}?{options}", uri=True)


@contextmanager
def _told(driver: Any) -> Iterator[None]:
    """Raises `Taken` and `Failure` for the errors of a driver."""
    try:
        yield
    except driver.IntegrityError:
        raise Taken from None
    except driver.Error as error:
        reason = str(error).splitlines() or [type(error).__name__]
        raise Failure(reason[0].rstrip(".")) from None


class _Sqlite:
    number = "INTEGER NOT NULL PRIMARY KEY"

    def __init__(self, path: str, uri: bool = False) -> None:
        import sqlite3

        self._driver = sqlite3
        with _told(sqlite3):
            # Transactions of our own: the driver begins none for tables and columns.
            self._db = sqlite3.connect(path, uri=uri, isolation_level=None, check_same_thread=False)

    @contextmanager
    def transaction(self, alone: bool = False) -> Iterator[Transaction]:
        with _told(self._driver), self._db as db:
            db.execute("BEGIN IMMEDIATE" if alone else "BEGIN")
            yield self._do

    def _do(self, sql: str, **values: object) -> list[Row]:
        found = self._db.execute(sql, values)
        names = [column[0] for column in found.description or ()]
        return [dict(zip(names, row, strict=True)) for row in found]

    def tables(self, do: Transaction) -> set[str]:
        return {row["name"] for row in do("SELECT name FROM sqlite_master WHERE type = 'table'")}


class _Postgres:
    """A server, connected to anew for every transaction: one that was away is found again."""

    number = "SERIAL PRIMARY KEY"

    def __init__(self, rest: str, shown: str) -> None:
        try:
            import psycopg
            from psycopg.conninfo import conninfo_to_dict
        except ImportError as error:
            raise UserError(
                f"{shown} needs a driver that is not installed ({error}): install it with "
                "pip install 'sputter-troubleshoot[postgres]'."
            ) from None
        self._driver: Any = psycopg
        try:
            url = conninfo_to_dict(f"postgresql://{rest}")
        except psycopg.Error:  # its words may hold a part of the password
            raise UserError(
                f"{shown} is not a usable casebook (the URL cannot be read): {REMEDY}."
            ) from None
        self._options: dict[str, Any] = {"connect_timeout": MISSING_FOR, **url}

    @contextmanager
    def transaction(self, alone: bool = False) -> Iterator[Transaction]:
        from psycopg.rows import dict_row

        with _told(self._driver), self._driver.connect(**self._options, row_factory=dict_row) as db:

            def do(sql: str, **values: object) -> list[Row]:
                found = db.execute(re.sub(r":(\w+)", r"%(\1)s", sql), values)
                return found.fetchall() if found.description else []

            if alone:
                do(f"SELECT pg_advisory_xact_lock({LOCK})")
            yield do

    def tables(self, do: Transaction) -> set[str]:
        inside = "SELECT table_name AS name FROM information_schema.tables"
        return {row["name"] for row in do(f"{inside} WHERE table_schema = current_schema()")}
