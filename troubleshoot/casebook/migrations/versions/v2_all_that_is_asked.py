"""1 to 2: coater, title, role, minutes; what was tried; files; all words; a key to share by."""

import json
import uuid

import sqlalchemy as sa
from alembic import op

from troubleshoot.casebook import words
from troubleshoot.casebook.migrations.refill import refill
from troubleshoot.casebook.record import remedies

revision = "2"
down_revision = "1"

REMEDIES = sa.table("remedies", *map(sa.column, ("case_id", "number", "action", "complaint_now")))


def upgrade() -> None:
    for column in ("key", "coater", "title", "role", "closed_at"):
        op.add_column("cases", sa.Column(column, sa.Text))
    op.add_column("cases", sa.Column("proved", sa.Integer))
    op.add_column("cases", sa.Column("minutes", sa.Float))
    op.create_index("cases_by_key", "cases", ["key"], unique=True)
    op.create_index("ix_cases_opened_at", "cases", ["opened_at"])
    op.create_index("ix_cases_status", "cases", ["status"])
    op.create_table(
        "remedies",
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("action", sa.Text, nullable=False),
        sa.Column("complaint_now", sa.Text, nullable=False),
    )
    op.create_table(
        "files",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("size", sa.Integer, nullable=False),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "case_files",
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), primary_key=True),
        sa.Column("sha256", sa.Text, sa.ForeignKey("files.sha256"), primary_key=True),
    )
    db = op.get_bind()
    words.make(db)
    cases = db.execute(sa.text("SELECT id, name, opened_at, machine FROM cases")).all()
    for case, name, opened_at, machine in cases:
        coater = _coater(machine)
        db.execute(
            sa.text("UPDATE cases SET key = :key, coater = :coater WHERE id = :case"),
            {"key": uuid.uuid4().hex, "coater": coater, "case": case},
        )
        journal = refill(db, case, opened_at, ("title", "role", "proved", "minutes", "closed_at"))
        for tried in remedies(journal):
            db.execute(REMEDIES.insert().values(case_id=case, **tried))
        words.keep(db, case, words.words_of(journal, name, coater))


def _coater(machine: str) -> str | None:
    try:
        name = json.loads(machine).get("name")
    except (ValueError, TypeError, AttributeError):
        return None
    return name if isinstance(name, str) else None
