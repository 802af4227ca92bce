"""People and their log, out of their files in the data folder."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import context, op
from pydantic import ValidationError

from appraise.errors import AppraiseError
from appraise.given import toml_of
from appraise.models.people import Person, same_name
from appraise.models.problems import problems_of
from appraise.store.database import left_file
from appraise.store.own_values import plain_text

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make both tables, and take over the files."""
    people = op.create_table(
        "people",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("password", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_people"),
    )
    log = op.create_table(
        "people_log",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("what", sa.Text(), nullable=False),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("came_from", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_people_log"),
    )
    op.bulk_insert(people, _people(left_file(context.config, "people.toml", private=True) or b""))
    for name in ("people.log.1", "people.log"):
        op.bulk_insert(log, list(_lines(left_file(context.config, name) or b"")))


def downgrade() -> None:
    """Drop both tables, with all that is in them."""
    op.drop_table("people_log")
    op.drop_table("people")


def _people(data: bytes) -> list[dict[str, Any]]:
    """Return the rows of a list in TOML; one that is wrong anywhere is taken over in no part."""
    try:
        listed = [Person.model_validate(one) for one in toml_of(data.decode()).get("person", ())]
    except ValidationError as error:
        first = problems_of(error)[0]
        raise AppraiseError(f"{first.where}: {first.message}", where="people.toml") from error
    except (ValueError, TypeError) as error:
        raise AppraiseError(f"is no list of people: {error}", where="people.toml") from error
    rows = {same_name(one.name): one.model_dump() for one in listed}
    if len(rows) != len(listed):
        raise AppraiseError("somebody is in it twice", where="people.toml")
    return [{"key": key} | row for key, row in rows.items()]


def _lines(data: bytes) -> Iterator[dict[str, Any]]:
    """Yield the rows of a log; lines that cannot be read are left out."""
    for line in data.splitlines():
        try:
            row = json.loads(line)
            at = datetime.fromisoformat(row["at"]).astimezone(UTC)
            said = {name: row[key].encode(errors="replace") for name, key in COLUMNS.items()}
        except (ValueError, TypeError, KeyError, AttributeError, OverflowError):
            continue
        yield {"at": at, **{name: plain_text(text) for name, text in said.items()}}


COLUMNS = {"what": "what", "who": "who", "came_from": "from"}
