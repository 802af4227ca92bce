"""A backup as this program writes one, to be changed into what it would never write."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from hashlib import sha256
from io import BytesIO
from pathlib import Path
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import pytest
from PIL import Image

from appraise.services.backup import BadBackup, restore, write_backup
from appraise.services.backup_file import MANIFEST
from appraise.services.workspace import Workspace, open_workspace
from appraise.settings import Settings

Members = dict[str, bytes]
ODD = r"is no backup|is damaged|holds what no backup holds|packed as no backup"


def _picture(kind: str, width: int = 30, height: int = 20) -> bytes:
    out = BytesIO()
    Image.new("L", (width, height), 90).save(out, kind)
    return out.getvalue()


@pytest.fixture(scope="session")
def picture() -> Callable[..., bytes]:
    """Return a maker of pictures: kind, width, height."""
    return _picture


@pytest.fixture(scope="session")
def honest(tmp_path_factory: pytest.TempPathFactory) -> Members:
    """Return the members of a backup with the examples, a photo and own values."""
    folder = tmp_path_factory.mktemp("honest")
    opened = open_workspace(Settings(data_folder=folder / "data"))
    opened.files.put(_picture("PNG"), "image/png", _picture("JPEG"))
    opened.settings.own_values.write_text("# mine\n")
    write_backup(opened, folder / "all.zip")
    opened.cases.engine.dispose()
    with ZipFile(folder / "all.zip") as archive:
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Workspace]:
    """Return a workspace that somebody else's backup is to be put into."""
    opened = open_workspace(Settings(data_folder=tmp_path / "data"))
    yield opened
    opened.cases.engine.dispose()


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "all.zip"


def _manifest_of(members: Members) -> bytes:
    manifest = json.loads(members[MANIFEST])
    digests = {name: sha256(data).hexdigest() for name, data in members.items()}
    manifest["sha256"] = {name: digest for name, digest in digests.items() if name != MANIFEST}
    return json.dumps(manifest).encode()


@pytest.fixture(scope="session")
def manifest_of() -> Callable[[Members], bytes]:
    """Return a maker of manifests by which everything is as it should be."""
    return _manifest_of


@pytest.fixture
def packed(place: Path) -> Callable[..., Path]:
    """Return a maker of archives: members, way of packing."""

    def go(members: Members, how: int = ZIP_DEFLATED) -> Path:
        with ZipFile(place, "w", how) as archive:
            for name, data in (members | {MANIFEST: _manifest_of(members)}).items():
                archive.writestr(ZipInfo(name), data, how)
        return place

    return go


def _everything(folder: Path) -> dict[str, bytes]:
    return {
        str(one.relative_to(folder)): one.read_bytes()
        for one in folder.rglob("*")
        if one.is_file() and "cases.sqlite" not in one.name
    }


@pytest.fixture
def refused(here: Workspace, tmp_path: Path) -> Callable[..., None]:
    """Return what refuses a file in one line, the database and every folder left as they were."""

    def go(file: Path, words: str = ODD) -> None:
        cars, before = here.cases.summaries(), _everything(tmp_path)
        started = time.process_time()
        with pytest.raises(BadBackup, match=words) as caught:
            restore(here, file, over=True)

        assert time.process_time() - started < 5
        assert str(caught.value).isprintable()
        assert here.cases.summaries() == cars
        assert _everything(tmp_path) == before

    return go
