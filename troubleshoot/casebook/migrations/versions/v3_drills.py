"""2 to 3: how drills went, in a table of their own that no statistics read."""

import sqlalchemy as sa
from alembic import op

revision = "3"
down_revision = "2"


def upgrade() -> None:
    op.create_table(
        "drills",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("data", sa.Text, nullable=False),
    )
    op.create_index("ix_drills_role", "drills", ["role"])
