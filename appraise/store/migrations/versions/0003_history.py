"""What each case was at every save, and by whom."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects import postgresql

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table; each case that is there begins its history as it stands."""
    document = sa.JSON().with_variant(postgresql.JSONB(), "postgresql")
    op.create_table(
        "history",
        sa.Column("case_id", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("schema", sa.Integer(), nullable=False),
        sa.Column("saved_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("doc", document, nullable=False),
        sa.PrimaryKeyConstraint("case_id", "version", name="pk_history"),
    )
    op.create_index("ix_history_saved_at", "history", ["saved_at"])
    op.execute(
        'INSERT INTO history (case_id, version, "schema", saved_at, who, what, doc) '
        "SELECT id, version, \"schema\", updated_at, '', 'kept', doc FROM cases"
    )


def downgrade() -> None:
    """Drop the table, with all that is in it."""
    op.drop_index("ix_history_saved_at", table_name="history")
    op.drop_table("history")
