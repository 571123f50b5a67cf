"""The latest shape of a casebook: its tables. The index of words, of which each engine has its own
kind, is made by `casebook.words`.

Older shapes are brought up to this one by `casebook.migrations`.
"""

import sqlalchemy as sa

META = sa.MetaData()

CASES = sa.Table(
    "cases",
    META,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("opened_at", sa.Text, nullable=False, index=True),
    sa.Column("machine", sa.Text, nullable=False),
    sa.Column("complaint", sa.Text),
    sa.Column("parked_until", sa.Text),
    sa.Column("parked_on", sa.Text),
    sa.Column("outcome", sa.Text),
    sa.Column("cause", sa.Text),
    sa.Column("last_at", sa.Text),
    sa.Column("status", sa.Text, index=True),
    sa.Column("entries", sa.Integer),
    sa.Column("key", sa.Text),
    sa.Column("coater", sa.Text),
    sa.Column("title", sa.Text),
    sa.Column("role", sa.Text),
    sa.Column("proved", sa.Integer),
    sa.Column("minutes", sa.Float),
    sa.Column("closed_at", sa.Text),
    sa.Index("cases_by_key", "key", unique=True),
)
ENTRIES = sa.Table(
    "entries",
    META,
    sa.Column("case_id", sa.ForeignKey("cases.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("data", sa.Text, nullable=False),
)
MACHINES = sa.Table(
    "machines",
    META,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("profile", sa.Text, nullable=False),
)
RUNS = sa.Table(
    "runs",
    META,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("machine", sa.Text, nullable=False, index=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("data", sa.Text, nullable=False),
)
REMEDIES = sa.Table(
    "remedies",
    META,
    sa.Column("case_id", sa.ForeignKey("cases.id"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    sa.Column("action", sa.Text, nullable=False),
    sa.Column("complaint_now", sa.Text, nullable=False),
)
"""What was tried, and what was then seen of the complaint: follows from the journal."""
FILES = sa.Table(
    "files",
    META,
    sa.Column("sha256", sa.Text, primary_key=True),
    sa.Column("size", sa.Integer, nullable=False),
    sa.Column("content", sa.LargeBinary, nullable=False),
)
CASE_FILES = sa.Table(
    "case_files",
    META,
    sa.Column("case_id", sa.ForeignKey("cases.id"), primary_key=True),
    sa.Column("sha256", sa.ForeignKey("files.sha256"), primary_key=True),
)

DRILLS = sa.Table(
    "drills",
    META,
    sa.Column("id", sa.Integer, primary_key=True),
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("role", sa.Text, nullable=False, index=True),
    sa.Column("data", sa.Text, nullable=False),
)
"""How drills went, by the role of who was drilled: read by nothing but `troubleshoot drill`."""

LIST = [c for c in CASES.c if c.name not in ("machine", "key")]
"""What the list of cases shows."""
VERSION = sa.Table(
    "casebook", META, sa.Column("version_num", sa.String(32), primary_key=True, nullable=False)
)
"""Of which version a casebook is: the table that alembic keeps."""
LATEST = 3
"""The version of this shape."""
