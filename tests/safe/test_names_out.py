"""Names of files that somebody is given, and what becomes of what is there under such a name.

Names are made from ids, words and names of files that somebody sent. That each button for a
download has such a name is in ui/test_names_of_downloads.py.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest

from appraise.errors import AppraiseError
from appraise.intake.file_names import ENDINGS, clean_name, ending_of, name_to_save
from appraise.models.files import MediaType
from appraise.services.inspection.log_views import remember_columns
from appraise.services.output import printing
from appraise.services.records.backup import backup_name, extra_backup, restore, write_backup
from appraise.services.records.workspace import Workspace

DEVICES = ("con", "PRN", "aux", "Nul", "com1", "COM9", "lpt1", "LPT9", "com¹", "lpt³", "CONIN$")
"""Windows documentation, "Naming Files, Paths, and Namespaces"."""
HOSTILE = (
    *DEVICES,
    *(f"{one}.x" for one in DEVICES),
    *(f"{one} .x" for one in DEVICES),
    *(f"-{one}" for one in DEVICES),
    "../../x",
    "..\\..\\x",
    "/etc/passwd",
    "C:\\x",
    "C:x",
    "x:stream",
    ".hidden",
    "...",
    "-rf",
    "--output=x",
    "- -.-x",
    "x\x1b[2J",
    "x\x9b2J\x7f",
    "x\0y",
    "x\r\nSet-Cookie: y",
    "\u202exslx",
    "x\u2066y\u2069",
    "x\u2028y",
    "x\u200b\ufeffy",
    "x\ud800y",
    "x. ",
    "x .",
    '<x>"|?*',
    "",
    " ",
    "x" * 300,
    "車" * 300,
    "🚗" * 300,
    "é" * 119 + "🚗" * 9,
    "e\u0301" * 200,
    "\u1112\u1161\u11ab" * 100,
)
ANYWHERE = re.compile(r'[/\\:<>"|?*]')
DEVICE = re.compile(r"(?i)(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³]) *(\.|$)")


def wrong(name: str, endings: tuple[str, ...]) -> list[str]:
    """Return what is wrong with the name of a file that somebody is given."""
    found = {
        "a stroke, or a letter that no system takes": bool(ANYWHERE.search(name)),
        "hidden or an option": name[:1] in {".", "-", " ", ""},
        "ends in a dot or blank": name[-1:] in {".", " "},
        "cannot be seen": not name.isprintable(),
        "a device": bool(DEVICE.match(name)),
        "too long": len(os.fsencode(name)) > 255 if name.isprintable() else True,
        "ends otherwise": not name.lower().endswith(endings),
        "nothing but its ending": name.lower() in endings,
    }
    return [what for what, is_so in found.items() if is_so]


@pytest.mark.parametrize("ending", [".json", ".xlsx", ".pdf"])
@pytest.mark.parametrize("words", HOSTILE)
def test_a_name_made_from_anything_is_a_plain_one(words: str, ending: str) -> None:
    name = name_to_save(words, ending)

    assert wrong(name, (ending,)) == []
    assert name_to_save(name.removesuffix(ending), ending) == name


@pytest.mark.parametrize("kind", get_args(MediaType))
@pytest.mark.parametrize("words", HOSTILE)
def test_a_name_that_a_file_came_with_is_made_a_plain_one(words: str, kind: MediaType) -> None:
    for came in (words, f"{words}.pdf", f"{words}.jpg.exe", f"{words}{ENDINGS[kind][0].upper()}"):
        name = clean_name(came, kind)

        assert wrong(name, ENDINGS[kind]) == []
        assert clean_name(name, kind) == name


def test_no_name_put_together_by_chance_is_anything_else() -> None:
    dice = np.random.default_rng(20261127)
    pieces = [*HOSTILE[:40], *"-. /\\:車🚗é\u202e\x1b\ud800", ".pdf", ".json", "con", "nul"]
    for _ in range(3_000):
        words = "".join(dice.choice(pieces, size=dice.integers(0, 12)))
        assert wrong(name_to_save(words, ".json"), (".json",)) == [], repr(words)
        name = clean_name(words, "application/pdf")
        assert wrong(name, (".pdf",)) == [], repr(words)
        assert ending_of(name) == ".pdf"


@pytest.mark.parametrize("words", ["wagon-half-repaired", "a.b-c_d", "20261127", "Rechnung für Öl"])
def test_a_plain_name_stays_as_it_is(words: str) -> None:
    assert name_to_save(words, ".json") == f"{words}.json"


def test_the_samples_are_wrong_as_they_are() -> None:
    for one in HOSTILE:
        assert wrong(f"{one}.json", (".json",)) or one.endswith((" ", ".")), repr(one)
    assert wrong("a.json", (".json",)) == []


def test_backups_have_plain_names(here: Workspace, tmp_path: Path) -> None:
    name, (target, _) = backup_name(date(2026, 11, 27)), extra_backup(here)
    assert wrong(name, (".zip",)) == []
    write_backup(here, tmp_path / name)
    restore(here, tmp_path / name, over=True)
    kept = list(target.parent.iterdir())
    assert len(kept) == 1  # nothing but the examples: nothing to be kept first
    here.own_values.save("# mine\n")
    restore(here, tmp_path / name, over=True)

    kept = list(target.parent.iterdir())
    assert len(kept) == 2
    assert [wrong(one.name, (".zip",)) for one in kept] == [[], []]


# --- what is there under the name -----------------------------------------------------------------

CAR = "wagon-half-repaired"
WRITES = {
    "bid sheet": (["sheet", "bid", CAR], [], ".pdf"),
    "work sheet": (["sheet", "work", CAR], [], ".pdf"),
    "handover sheet": (["sheet", "handover", CAR], [], ".pdf"),
    "tables": (["tables", "--only", "Car", CAR], [], ".xlsx"),
    "parts as a sheet": (["parts", CAR], ["--sheet"], ".xlsx"),
    "parts on paper": (["parts", CAR], ["--paper"], ".pdf"),
    "backup": (["backup"], [], ".zip"),
}
BEGINS = {".pdf": b"%PDF-", ".xlsx": b"PK", ".zip": b"PK"}
MINE = b"mine, of long ago"


@pytest.fixture(params=WRITES)
def write(request: pytest.FixtureRequest, run: Callable[..., Any]) -> Callable[..., Any]:
    """Return what runs a command that writes a file: file, more options."""
    before, option, _ = WRITES[request.param]
    return lambda path, *more: run(*before, *more, *option, str(path))


@pytest.fixture
def ending(request: pytest.FixtureRequest) -> str:
    return WRITES[request.node.callspec.params["write"]][2]


def left_behind(folder: Path) -> list[str]:
    """Return half-written files."""
    return [one.name for one in folder.rglob("*") if one.name.endswith(".part")]


def test_every_command_that_writes_a_file_is_among_them(commands: dict[str, Any]) -> None:
    writing = {
        name for name, one in commands.items() if any("--force" in p.opts for p in one.params)
    }
    assert writing == {before[0] for before, _, _ in WRITES.values()}


def test_a_file_there_is_kept_unless_it_is_said(write: Any, ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"a{ending}"
    path.write_bytes(MINE)
    os.link(path, tmp_path / "other name")
    done = write(path)

    assert (done.code, done.out) == (2, "")
    assert "is there already. Write over it with --force" in done.err
    assert path.read_bytes() == MINE
    assert write(path, "--force").code == 0
    assert path.read_bytes().startswith(BEGINS[ending])
    assert (tmp_path / "other name").read_bytes() == MINE
    assert left_behind(tmp_path) == []


@pytest.mark.parametrize("write", [one for one in WRITES if one != "backup"], indirect=True)
def test_a_file_that_comes_meanwhile_is_kept(
    write: Any, ending: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After the place was found to be free, and before the file is ready."""
    free_place, path = printing.free_place, tmp_path / f"a{ending}"

    def then_taken(*given: Any, **more: Any) -> None:
        free_place(*given, **more)
        path.write_bytes(MINE)

    monkeypatch.setattr(printing, "free_place", then_taken)
    done = write(path)

    assert (done.code, done.out) == (2, "")
    assert "is there already. Write over it with --force" in done.err
    assert path.read_bytes() == MINE
    assert left_behind(tmp_path) == []


def test_if_one_of_two_is_taken_meanwhile_neither_is_written(tmp_path: Path) -> None:
    (tmp_path / "b").write_bytes(MINE)
    with pytest.raises(AppraiseError, match="b: is there already"):
        printing.write_files({tmp_path / "a": b"1", tmp_path / "b": b"2"})

    assert [one.name for one in tmp_path.iterdir()] == ["b"]
    assert (tmp_path / "b").read_bytes() == MINE


def test_nothing_is_written_through_a_link(write: Any, ending: str, tmp_path: Path) -> None:
    """With --force the link itself is replaced, and what it led to stays."""
    target, link = tmp_path / "elsewhere", tmp_path / f"a{ending}"
    target.write_bytes(MINE)
    link.symlink_to(target)
    done = write(link)

    assert (done.code, done.out) == (2, "")
    assert "is there already" in done.err
    assert link.is_symlink()
    assert write(link, "--force").code == 0
    assert not link.is_symlink()
    assert link.read_bytes().startswith(BEGINS[ending])
    assert target.read_bytes() == MINE
    assert left_behind(tmp_path) == []


def test_nothing_is_written_through_a_link_to_nowhere(
    write: Any, ending: str, tmp_path: Path
) -> None:
    for target in (tmp_path / "nowhere", tmp_path / f"a{ending}"):
        link = tmp_path / f"a{ending}"
        link.symlink_to(target)
        done = write(link)

        assert (done.code, done.out) == (2, "")
        assert "is there already" in done.err
        write(link, "--force")
        assert not (tmp_path / "nowhere").exists()
        link.unlink()
        assert left_behind(tmp_path) == []


def test_a_folder_or_a_pipe_of_that_name_is_no_place(
    write: Any, ending: str, tmp_path: Path
) -> None:
    folder, pipe = tmp_path / f"folder{ending}", tmp_path / f"pipe{ending}"
    folder.mkdir()
    (folder / "mine").write_bytes(MINE)
    os.mkfifo(pipe)
    done = write(pipe)
    assert (done.code, done.out) == (2, "")
    assert "is there already" in done.err
    for more in ([], ["--force"]):
        done = write(folder, *more)
        assert (done.code, done.out) == (2, "")
        assert re.search(r"is no file|is a folder", done.err)
    assert (folder / "mine").read_bytes() == MINE
    assert left_behind(tmp_path) == []


def test_a_folder_reached_through_a_link_is_written_into(
    write: Any, ending: str, tmp_path: Path
) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")

    assert write(tmp_path / "link" / f"a{ending}").code == 0
    assert [one.name for one in (tmp_path / "real").iterdir()] == [f"a{ending}"]


@pytest.mark.parametrize("name", ["nowhere/a", "file/a", "loop/a", "x" * 255, "x" * 5000])
def test_a_place_that_is_none_is_told_in_one_line(
    write: Any, ending: str, name: str, tmp_path: Path
) -> None:
    (tmp_path / "file").write_bytes(MINE)
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    before = sorted(one.name for one in tmp_path.iterdir())
    done = write(tmp_path / (name + ending))

    assert (done.code, done.out, done.err.count("\n")) == (2, "", 1)
    assert re.search(r"no such folder|cannot be written: \w", done.err)
    after = {one.name for one in tmp_path.iterdir()} - {"data"}
    assert sorted(after) == [one for one in before if one != "data"]


def test_what_the_data_folder_keeps_is_not_written_through_a_link(
    here: Workspace, tmp_path: Path
) -> None:
    """The remembered columns: the link is replaced, what it led to stays."""
    path, target = here.settings.log_columns, tmp_path / "elsewhere"
    target.write_text("{}", encoding="utf-8")
    path.symlink_to(target)
    remember_columns(path, ["Boost abs=map_kpa"])

    assert not path.is_symlink()
    assert path.read_text(encoding="utf-8") != "{}"
    assert target.read_text(encoding="utf-8") == "{}"
