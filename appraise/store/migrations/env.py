"""Run by alembic, on the connection that `appraise.store.database` hands over."""

from __future__ import annotations

from alembic import context

from appraise.store.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite changes a table by copying it
)
with context.begin_transaction():
    context.run_migrations()
