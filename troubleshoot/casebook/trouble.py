"""What a database complains of, as one true sentence with the way out."""

import sqlalchemy as sa

from troubleshoot.casebook.place import secrets_of

BACKUP = "put back the last backup (docs/casebook.md), or name another casebook with --casebook"
BY_SQLITE = (
    ("SQLITE_FULL", "no room is left on its disk", "make room there; what was kept before is safe"),
    ("SQLITE_READONLY", "it can be read but not written",
     "have its file and its folder made yours to write, or name another one with --casebook"),
    ("SQLITE_PERM", "you may not open it", "have its file and its folder made yours to write"),
    ("SQLITE_AUTH", "you may not open it", "have its file and its folder made yours to write"),
    ("SQLITE_BUSY", "another program has held it locked for half a minute",
     "end that program, or wait for it, and say it again; what was kept before is safe"),
    ("SQLITE_LOCKED", "another program has held it locked for half a minute",
     "end that program, or wait for it, and say it again; what was kept before is safe"),
    ("SQLITE_NOMEM", "there is too little memory for it here",
     "close other programs and say it again; what was kept before is safe"),
    ("SQLITE_CORRUPT", "its file is damaged", BACKUP),
    ("SQLITE_NOTADB", "the file is no casebook, or is damaged", BACKUP),
    ("SQLITE_CANTOPEN", "it cannot be opened or made there",
     "see that its folder is there and yours to write, or name another place with --casebook or in "
     "TROUBLESHOOT_DATA"),
    ("SQLITE_IOERR", "its disk fails to read or write",
     "see that the disk is there and sound; what was kept before is safe if the disk is"),
)  # fmt: skip
BY_STATE = (
    ("28", "the server refuses this user or password", "mend the name or password of the URL"),
    ("3D000", "the server has no such database", "have it made, or mend the name in the URL"),
    ("42501", "the server does not let this user do that",
     "have its owner grant the right to write"),
    ("25006", "the server lets it be read but not written",
     "wait until it takes writing again, or name another casebook with --casebook"),
    ("531", "no room is left on the server's disk",
     "have room made there; what was kept before is safe"),
    ("53", "the server has too much to do", "say it again in a while; what was kept is safe"),
    ("57014", "the server gave up waiting", "say it again in a while; what was kept is safe"),
    ("55P03", "another program has held it locked", "say it again; what was kept before is safe"),
    ("XX001", "its tables are damaged", BACKUP),
)  # fmt: skip
AWAY = (
    "the server does not answer",
    "see that it runs and can be reached, then say it again; what was kept before is safe",
)


def sentence(error: sa.exc.SQLAlchemyError, named: str | None, place: str) -> str:
    """What is wrong with the casebook at `place`, in the database's words too, and the remedy."""
    cause = getattr(error, "orig", None) or error
    said = str(cause).strip().splitlines() or [type(cause).__name__]
    what, remedy = _meaning(cause, named)
    return f"{place} cannot be used: {what} ({_without_password(said[0], named).rstrip('.')}). " + (
        f"{remedy[0].upper()}{remedy[1:]}."
    )


def is_away(error: sa.exc.DBAPIError) -> bool:
    """Whether a server has gone, so that asking it again later may help."""
    return _server(error.orig) and _state(error.orig)[:2] in ("", "08", "57")


def _meaning(cause: object, named: str | None) -> tuple[str, str]:
    name = getattr(cause, "sqlite_errorname", None)
    for begins, what, remedy in BY_SQLITE:
        if name is not None and name.startswith(begins):
            return what, remedy
    if _server(cause):
        for begins, what, remedy in BY_STATE:
            if _state(cause).startswith(begins):
                return what, remedy
        if type(cause).__name__ in ("OperationalError", "InterfaceError", "AdminShutdown"):
            return AWAY
    if "no such table" in str(cause) or "no such column" in str(cause):
        return "something of it is missing", BACKUP
    return "it is not as this program left it", BACKUP


def _server(cause: object) -> bool:
    return type(cause).__module__.startswith("psycopg")


def _state(cause: object) -> str:
    return getattr(cause, "sqlstate", None) or ""


def _without_password(said: str, named: str | None) -> str:
    """A driver's own words, should it ever quote the URL."""
    for secret in secrets_of(named):
        said = said.replace(secret, "***")
    return said
