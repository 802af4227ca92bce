"""The tables; rows never leave this package."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, Dialect, MetaData, Text
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeDecorator

__all__ = [
    "Base",
    "CaseRow",
    "FileRow",
    "HistoryRow",
    "NoteRow",
    "PersonRow",
    "PreferencesRow",
    "UtcDateTime",
    "utc_now",
]


def utc_now() -> datetime:
    """Return the present moment, in UTC."""
    return datetime.now(UTC)


class UtcDateTime(TypeDecorator[datetime]):
    """A moment: refused without a time zone, kept in UTC, handed back in UTC on any database."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Turn a moment into what the column keeps."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a moment without a time zone: {value}")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Turn what the column gives into a moment; SQLite forgets the time zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Base(DeclarativeBase):
    """All tables; constraints have names, so that migrations can change them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )
    type_annotation_map = {  # noqa: RUF012 - SQLAlchemy reads it from the class
        str: Text(),
        datetime: UtcDateTime(),
        dict[str, Any]: JSON().with_variant(JSONB(), "postgresql"),
    }


class CaseRow(Base):
    """A case: the whole of it in `doc`, beside it what lists are made of."""

    __tablename__ = "cases"

    id: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int]
    schema: Mapped[int]
    title: Mapped[str]
    standing: Mapped[str]
    created_at: Mapped[datetime]
    updated_at: Mapped[datetime]
    deleted_at: Mapped[datetime | None]
    doc: Mapped[dict[str, Any]]


class HistoryRow(Base):
    """A case as it was saved at one version, and by whom."""

    __tablename__ = "history"

    case_id: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int] = mapped_column(primary_key=True)
    schema: Mapped[int]
    saved_at: Mapped[datetime] = mapped_column(index=True)
    who: Mapped[str]
    what: Mapped[str]
    doc: Mapped[dict[str, Any]]


class PreferencesRow(Base):
    """A person's defaults."""

    __tablename__ = "preferences"

    key: Mapped[str] = mapped_column(primary_key=True)
    version: Mapped[int]
    updated_at: Mapped[datetime]
    doc: Mapped[dict[str, Any]]


class PersonRow(Base):
    """Somebody who may sign in; the key is what names are compared by."""

    __tablename__ = "people"

    key: Mapped[str] = mapped_column(primary_key=True)
    name: Mapped[str]
    role: Mapped[str]
    password: Mapped[str]


class NoteRow(Base):
    """A line of the log of who came and went."""

    __tablename__ = "people_log"

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime]
    what: Mapped[str]
    who: Mapped[str]
    came_from: Mapped[str]


class FileRow(Base):
    """A photo or PDF, named by its content.

    The content comes last: to read what stands behind it, SQLite would have to go through it.
    """

    __tablename__ = "files"

    id: Mapped[str] = mapped_column(primary_key=True)
    media_type: Mapped[str]
    size: Mapped[int]
    created_at: Mapped[datetime]
    thumbnail: Mapped[bytes | None]
    content: Mapped[bytes]
