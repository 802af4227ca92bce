"""Backup and restore from the command line: one line said, exit code 2 for what is refused."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from appraise import cli
from appraise.services import today
from appraise.services.records.backup import backup_name, read_backup
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command on a data folder; returns exit code, output and errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("APPRAISE_DATABASE_URL", raising=False)

    def run_one(*arguments: str, data: str = "data") -> tuple[int, str, str]:
        monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / data))
        monkeypatch.setattr(sys, "argv", ["appraise", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        said = capsys.readouterr()
        code = stopped.value.code
        return (0 if code is None else int(code)), said.out, said.err

    return run_one


def retitle(folder: Path, title: str) -> None:
    workspace = open_workspace(Settings(data_folder=folder))
    first = workspace.cases.load(workspace.cases.summaries()[0].id)
    workspace.cases.save(first.case.model_copy(update={"title": title}), first.version)
    workspace.cases.engine.dispose()


def titles(folder: Path) -> list[str]:
    workspace = open_workspace(Settings(data_folder=folder))
    found = [one.title for one in workspace.cases.summaries()]
    workspace.cases.engine.dispose()
    return found


def assert_refused(ran: tuple[int, str, str], *words: str) -> None:
    code, out, err = ran
    assert code == 2
    assert out == ""
    assert err.startswith("appraise: ")
    assert err.count("\n") == 1, "one line"
    for word in words:
        assert word in err


def test_a_backup_has_the_name_of_the_day_and_comes_back_elsewhere(
    run: Run, tmp_path: Path
) -> None:
    retitle(tmp_path / "data", "Mine")
    code, out, err = run("backup")
    assert (code, err) == (0, "")
    name = backup_name(today())
    assert out.startswith(f"{name}: ")
    assert out.count("\n") == 1
    assert read_backup(tmp_path / name).rows["cases"]

    code, out, err = run("restore", name, data="elsewhere")
    assert (code, err) == (0, "")
    assert out.startswith("put back: ")
    assert titles(tmp_path / "elsewhere") == titles(tmp_path / "data")
    assert "Mine" in titles(tmp_path / "elsewhere")


def test_a_file_there_is_written_over_only_when_told(run: Run, tmp_path: Path) -> None:
    assert run("backup", "all.zip")[0] == 0
    before = (tmp_path / "all.zip").read_bytes()
    assert_refused(run("backup", "all.zip"), "all.zip", "is there already", "--force")
    assert (tmp_path / "all.zip").read_bytes() == before

    retitle(tmp_path / "data", "Later")
    assert run("backup", "all.zip", "--force")[0] == 0
    assert "Later" in [row["title"] for row in read_backup(tmp_path / "all.zip").rows["cases"]]


def test_cars_there_are_replaced_only_when_told_and_kept_first(run: Run, tmp_path: Path) -> None:
    assert run("backup", "all.zip")[0] == 0
    retitle(tmp_path / "data", "Since then")
    assert_refused(run("restore", "all.zip"), "kept here already", "--over")
    assert "Since then" in titles(tmp_path / "data")

    code, out, err = run("restore", "all.zip", "--over")
    assert (code, err) == (0, "")
    assert "Since then" not in titles(tmp_path / "data")
    (kept,) = (tmp_path / "data" / "backups").iterdir()
    assert str(kept) in out
    assert run("restore", str(kept), "--over")[0] == 0
    assert "Since then" in titles(tmp_path / "data")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("backup", "nowhere/all.zip"), ("nowhere/all.zip", "cannot be written")),
        (("backup", "data/cases.sqlite", "--force"), ("cases.sqlite", "should end in .zip")),
        (("backup", "."), ("should end in .zip",)),
        (("restore", "gone.zip"), ("gone.zip", "no such file")),
        (("restore", "."), ("is a folder",)),
        (("restore", "text.zip"), ("text.zip", "is no backup")),
        (("restore", "text.zip", "--over"), ("text.zip", "is no backup")),
    ],
)
def test_what_cannot_be_done_is_one_line(
    run: Run, tmp_path: Path, arguments: tuple[str, ...], words: tuple[str, ...]
) -> None:
    (tmp_path / "text.zip").write_text("not a zip")
    before = titles(tmp_path / "data")
    assert_refused(run(*arguments), *words)
    assert titles(tmp_path / "data") == before


def test_a_database_that_cannot_be_read_is_one_line(run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "cases.sqlite").write_text("Dear diary, " * 500)
    assert_refused(run("backup"), "is not a database")
    assert not (tmp_path / backup_name(today())).exists()
