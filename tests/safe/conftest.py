"""Backups to be changed into what no program writes, and a terminal to see what reaches it."""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from hashlib import sha256
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

import pytest
from PIL import Image

from appraise import cli
from appraise.services.records.backup import BadBackup, restore, write_backup
from appraise.services.records.backup_file import MANIFEST
from appraise.services.records.workspace import Workspace, open_workspace
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
    opened.own_values.save("# mine\n")
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


# --- a terminal -----------------------------------------------------------------------------------


class Terminal(TextIOWrapper):
    """A stream that says it is a terminal: from what goes to a pipe, Typer strips colors."""

    def __init__(self) -> None:
        super().__init__(BytesIO(), encoding="utf-8", newline="\n", write_through=True)

    def isatty(self) -> bool:
        return True

    def shown(self) -> str:
        assert isinstance(self.buffer, BytesIO)
        return self.buffer.getvalue().decode()


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """Run the program in this process, as on a terminal, in a folder of the test's own."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.delenv("APPRAISE_DATABASE_URL", raising=False)
    monkeypatch.chdir(tmp_path)

    def go(*arguments: str) -> Ran:
        out, err = Terminal(), Terminal()
        password = TextIOWrapper(BytesIO(b"four words are long\n"))
        with pytest.MonkeyPatch.context() as patch:
            for name, one in (("stdin", password), ("stdout", out), ("stderr", err)):
                patch.setattr(sys, name, one)
            patch.setattr(sys, "argv", ["appraise", *arguments])
            with pytest.raises(SystemExit) as stopped:
                cli.main()
        return Ran(int(stopped.value.code or 0), out.shown(), err.shown())

    return go


@pytest.fixture(scope="session")
def line_of(commands: dict[str, Any]) -> Callable[..., list[str]]:
    """Return a maker of command lines: command, what its parameters are given, more options."""

    def go(command: str, given: dict[str, str], *more: str) -> list[str]:
        options, words = list(more), []
        known = [one for one in commands[command].params if one.name in given]
        assert len(known) == len(given)
        for one in known:
            value = given[one.name]
            if one.param_type_name == "argument":
                words.append(value)
            else:
                options += [one.opts[0]] if one.is_flag else [one.opts[0], value]
        return [*command.split(), *options, "--", *words]

    return go


ORDERS = {*range(0x20), *range(0x7F, 0xA0)} - {ord("\n")}
TURNS = {0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)}
ENDS = {0x2028, 0x2029}


@pytest.fixture(scope="session")
def obeyed() -> Callable[[str], list[str]]:
    """Return what finds in a text what a terminal would obey.

    C0 and C1 controls (ECMA-48, section 5; the line feed ends the program's own lines), what turns
    the way of reading (Unicode Standard Annex 9, section 2) or ends a line (Unicode 5.8); all from
    memory.
    """
    return lambda text: sorted(hex(one) for one in set(map(ord, text)) & (ORDERS | TURNS | ENDS))
