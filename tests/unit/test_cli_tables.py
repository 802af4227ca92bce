"""The command tables: what is written, what is said of it, and what is refused in one line."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from appraise import cli, services
from appraise.services.output import printing, tables

CAR = "wagon-half-repaired"
ON = ("--on", "2026-11-22")
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Run `appraise tables` in a folder of the test's own."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)

    def go(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["appraise", "tables", *arguments])
        code = 0
        try:
            cli.main()
        except SystemExit as stopped:
            code = int(stopped.code or 0)
        seen = capsys.readouterr()
        return code, seen.out, seen.err

    return go


def sheets(path: Path) -> list[str]:
    return openpyxl.load_workbook(path).sheetnames


def test_everything_is_written_into_one_file(run: Run, tmp_path: Path) -> None:
    code, out, err = run(CAR, "car.xlsx", *ON)

    names = sheets(tmp_path / "car.xlsx")
    assert (code, out, err) == (0, f"car.xlsx: written, {len(names)} tables\n", "")
    assert {"Car", "Findings", "Jobs", "Entries", "Options", "Values used"} <= set(names)
    case, reference = services.load_case_file(CAR), services.reference_values()
    day = services.load_case_file(CAR).appraised_on
    written = (tmp_path / "car.xlsx").read_bytes()
    assert written == tables.table_sheet(case, reference, on=day)


def test_one_table_or_two_by_name(run: Run, tmp_path: Path) -> None:
    assert run(CAR, "one.xlsx", "--only", "entries") == (0, "one.xlsx: written, 1 table\n", "")
    assert sheets(tmp_path / "one.xlsx") == ["Entries"]
    run(CAR, "two.xlsx", "--only", "Parts", "--only", "Where it ends")
    assert sheets(tmp_path / "two.xlsx") == ["Parts", "Where it ends"]


def test_what_cannot_be_worked_out_is_said(run: Run, tmp_path: Path) -> None:
    raw = json.loads(services.case_text(services.load_case_file("demo")))
    raw["market"]["comparables"] = []
    (tmp_path / "bare.json").write_text(json.dumps(raw), encoding="utf-8")
    code, out, err = run("bare.json", "bare.xlsx")

    first, *left = out.splitlines()
    assert (code, err) == (0, "")
    assert first == f"bare.xlsx: written, {len(sheets(tmp_path / 'bare.xlsx'))} tables"
    assert len(left) == 1
    assert left[0].startswith("left out: ")
    assert "Estimate" in left[0]
    assert "comparable" in left[0]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("nothing.json", "a.xlsx"), "nothing.json: there is no such file"),
        ((CAR, "a.pdf"), "a.pdf: the file should end in .xlsx"),
        ((CAR, "gone/a.xlsx"), "gone: there is no such folder"),
        ((CAR, "a.xlsx", "--only", "nix"), "there is no table 'nix'. It is one of: Car"),
        (("demo", "a.xlsx", "--only", "Jobs"), "the car is not bought yet"),
        ((CAR, "a.xlsx", "--on", "soon"), "--on: 'soon' must be a day"),
        ((CAR, "a.xlsx", "--own-values", "no.toml"), "no.toml: there is no such file"),
    ],
)
def test_what_is_wrong_is_one_line_and_nothing_is_written(
    run: Run, tmp_path: Path, arguments: tuple[str, ...], words: str
) -> None:
    code, out, err = run(*arguments)

    assert (code, out, err.count("\n")) == (2, "", 1)
    assert err.startswith("appraise: ")
    assert words in err
    assert not list(tmp_path.glob("*.xlsx"))


def test_a_file_that_is_there_is_kept_unless_it_is_said(run: Run, tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"mine")

    code, _, err = run(CAR, "a.xlsx", "--only", "Parts")
    assert (code, (tmp_path / "a.xlsx").read_bytes()) == (2, b"mine")
    assert "is there already. Write over it with --force." in err
    assert run(CAR, "a.xlsx", "--only", "Parts", "--force")[0] == 0
    assert sheets(tmp_path / "a.xlsx") == ["Parts"]


def test_a_write_that_fails_leaves_nothing_behind(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(half: Path, target: Path) -> Path:
        del half, target
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(printing.Path, "replace", full)
    monkeypatch.setattr(printing.os, "link", full)
    code, _, err = run(CAR, "a.xlsx", "--only", "Parts")

    assert (code, err) == (2, "appraise: a.xlsx: cannot be written: No space left on device\n")
    assert list(tmp_path.iterdir()) == []
