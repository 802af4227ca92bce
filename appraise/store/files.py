"""Photos and PDFs kept, each once, under the digest of its content."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from sqlalchemy import Connection, delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from appraise.errors import BadFile
from appraise.models.files import MediaType
from appraise.store.database import Store, keep_others_out, transaction
from appraise.store.tables import FileRow

__all__ = ["FileStore", "StoredFile"]

AT_ONCE = 500  # ids in one statement; every database takes so many


@dataclass(frozen=True, slots=True)
class StoredFile:
    """A photo or PDF with its bytes."""

    id: str
    media_type: str
    content: bytes


class FileStore(Store):
    """The photos and PDFs in one database."""

    def put(self, content: bytes, media_type: MediaType, thumbnail: bytes | None) -> str:
        """Keep a file and return its id; one that is there already counts as new again.

        One that is damaged where it is kept is whole again afterwards.
        """
        file_id = sha256(content).hexdigest()
        moment = self._now()
        same = FileRow.id == file_id
        with transaction(self._engine) as connection:
            if connection.execute(update(FileRow).where(same).values(created_at=moment)).rowcount:
                kept = connection.execute(select(FileRow.content).where(same)).scalar_one()
                if kept != content:
                    connection.execute(update(FileRow).where(same).values(content=content))
                return file_id
        row = {
            "id": file_id,
            "media_type": media_type,
            "size": len(content),
            "created_at": moment,
            "thumbnail": thumbnail,
            "content": content,
        }
        try:
            with transaction(self._engine) as connection:
                connection.execute(insert(FileRow).values(row))
        except IntegrityError:  # somebody else kept the same content a moment ago
            return file_id
        return file_id

    def get(self, file_id: str) -> StoredFile:
        """Return a file with its bytes.

        Raises
        ------
        BadFile : it is not kept here, or is no longer what was kept.
        """
        statement = select(FileRow.media_type, FileRow.content).where(FileRow.id == file_id)
        with transaction(self._engine) as connection:
            row = connection.execute(statement).one_or_none()
        if row is None:
            raise BadFile(
                "the photo or PDF itself is not kept here, only its name",
                hint="Add it again from where it came.",
            )
        if sha256(row.content).hexdigest() != file_id:
            raise BadFile(
                "the photo or PDF is damaged where it is kept",
                hint="Put back a good copy of the database, or add it again.",
            )
        return StoredFile(id=file_id, media_type=row.media_type, content=row.content)

    def thumbnails(self, file_ids: Iterable[str]) -> dict[str, bytes | None]:
        """Return the small picture of each, None for one without; what is not kept is left out."""
        found: dict[str, bytes | None] = {}
        for some in _in_turn(file_ids):
            statement = select(FileRow.id, FileRow.thumbnail).where(FileRow.id.in_(some))
            with transaction(self._engine) as connection:
                found |= {row.id: row.thumbnail for row in connection.execute(statement)}
        return found

    def forget_unused(
        self,
        used: Collection[str],
        older_than: datetime,
        look_again: Callable[[Connection], Collection[str]] | None = None,
    ) -> int:
        """Forget what nothing refers to; return how many files that were.

        Parameters
        ----------
        used : ids that any case, removed ones included, refers to.
        older_than : what was kept later stays: its case may not be saved yet.
        look_again : returns what is referred to since `used` was found out; called while nobody
            else can save.
        """
        old = FileRow.created_at < older_than
        with transaction(self._engine) as connection:
            known = connection.execute(select(FileRow.id).where(old)).scalars().all()
        unused = set(known) - set(used)
        if not unused:
            return 0
        forgotten = 0
        with transaction(self._engine) as connection:
            keep_others_out(connection, "cases", "history", "files")
            if look_again is not None:
                unused -= set(look_again(connection))
            for some in _in_turn(unused):
                # The age again: one that was added anew since then is wanted.
                gone = connection.execute(delete(FileRow).where(FileRow.id.in_(some), old))
                forgotten += gone.rowcount
        return forgotten


def _in_turn(file_ids: Iterable[str]) -> Iterator[list[str]]:
    ids = sorted(set(file_ids))
    for start in range(0, len(ids), AT_ONCE):
        yield ids[start : start + AT_ONCE]
