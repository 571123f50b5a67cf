"""0 to 1: the record of a case holds what the list of cases says of it."""

import sqlalchemy as sa
from alembic import op

from troubleshoot.casebook.migrations.refill import refill

revision = "1"
down_revision = None

TEXTS = ("complaint", "parked_until", "parked_on", "outcome", "cause", "last_at", "status")


def upgrade() -> None:
    for column in TEXTS:
        op.add_column("cases", sa.Column(column, sa.Text))
    op.add_column("cases", sa.Column("entries", sa.Integer))
    db = op.get_bind()
    for case, opened_at in db.execute(sa.text("SELECT id, opened_at FROM cases")).all():
        refill(db, case, opened_at, (*TEXTS, "entries"))
