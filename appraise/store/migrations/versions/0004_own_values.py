"""Own values, out of their file in the data folder into a row of the preferences."""

from __future__ import annotations

from base64 import b64decode
from datetime import UTC, datetime
from hashlib import sha256

import sqlalchemy as sa
from alembic import context, op
from sqlalchemy.dialects.postgresql import JSONB

from appraise.store.database import left_file
from appraise.store.own_values import plain_text

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

PREFERENCES = sa.table(
    "preferences",
    sa.column("key", sa.Text()),
    sa.column("version", sa.Integer()),
    sa.column("updated_at", sa.DateTime(timezone=True)),
    sa.column("doc", sa.JSON().with_variant(JSONB(), "postgresql")),
)
WAITING = "own values to be put back"
"""Key of those that a restore by an earlier program, killed then, did not put in place any more."""


def upgrade() -> None:
    """Take over the file, or what a restore was about to put in its place."""
    data = left_file(context.config, "own_values.toml")
    is_waiting = PREFERENCES.c.key == WAITING
    connection = op.get_bind()
    waiting = connection.execute(sa.select(PREFERENCES.c.doc).where(is_waiting)).scalar()
    if waiting and waiting["instead_of"] == ("none" if data is None else sha256(data).hexdigest()):
        back = waiting["own_values"]
        data = None if back is None else b64decode(back)
    connection.execute(sa.delete(PREFERENCES).where(is_waiting))
    if data:
        doc, moment = {"text": plain_text(data)}, datetime.now(UTC)
        row = {"key": "own values", "version": 1, "updated_at": moment, "doc": doc}
        connection.execute(sa.insert(PREFERENCES), row)


def downgrade() -> None:
    """Drop them."""
    op.get_bind().execute(sa.delete(PREFERENCES).where(PREFERENCES.c.key == "own values"))
