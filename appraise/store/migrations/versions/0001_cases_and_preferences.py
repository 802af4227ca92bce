"""Cases and preferences."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op
from sqlalchemy.dialects.postgresql import JSONB

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make both tables."""
    doc = sa.JSON().with_variant(JSONB(), "postgresql")
    op.create_table(
        "cases",
        sa.Column("id", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("schema", sa.Integer(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("standing", sa.Text(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("deleted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("doc", doc, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_cases"),
    )
    op.create_table(
        "preferences",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("doc", doc, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_preferences"),
    )


def downgrade() -> None:
    """Drop both tables, with all that is in them."""
    op.drop_table("preferences")
    op.drop_table("cases")
