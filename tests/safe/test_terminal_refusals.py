"""What is refused is told on the terminal in plain text: hostile arguments, names and files.

The program is as it is: the models refuse what a terminal would obey, and what is said of it, or
of a file whose name is hostile, must not be obeyed either.
"""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from typer.main import get_command

from appraise import cli, services
from appraise.models.people import Person
from appraise.services.records.backup import write_backup
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

MARK = "zqx"
FAKE = "appraise: walk-away price 99,999"
HOSTILE = f"{MARK}\x1b[2J\x1b]8;;x\x07\x9b1A\x85\x7f\b\r\n{FAKE}\u202e\u2066\u2028{FAKE}"
NOT_UTF8 = f"{MARK}\udcff\udc9b2J"
"""As Python reads a file's name that is not UTF-8."""
CAR = {"case": "car.json"}
WELL: dict[str, dict[str, str]] = {
    "open": {"lan": "yes", "port": "-1"},
    "bid": CAR,
    "check": CAR,
    "papers": CAR,
    "vin": {"number": "1XXZA05AXKA042788"},
    "jobs": {},
    "code": {"codes": "P0300"},
    "diagnose": CAR,
    "answers": CAR | {"file": "answers.txt"},
    "log": {"file": "log.csv"},
    "forecast": CAR,
    "decide": CAR,
    "parts": CAR,
    "sheet": CAR | {"kind": "work", "file": "a.pdf"},
    "tables": CAR | {"file": "a.xlsx"},
    "cars": {},
    "own-values": {},
    "backup": {"file": "new.zip"},
    "restore": {"file": "all.zip", "over": "yes"},
    "schema": {},
    "people add": {"name": "Bea", "password_stdin": "yes"},
    "people list": {},
    "people remove": {"name": "Bea"},
    "people password": {"name": "Ada", "password_stdin": "yes"},
    "people role": {"name": "Ada", "role": "look"},
    "people log": {},
}
"""What each command is given to work, but for `open`, which never finds its port."""
VALUES = [
    (command, one.name)
    for way, group in [((), get_command(cli.app))]
    for command, found in [
        *((name, each) for name, each in group.commands.items() if name != "people"),
        *((f"people {name}", each) for name, each in group.commands["people"].commands.items()),
    ]
    for one in found.params
    if not getattr(one, "is_flag", False)
]
ENDINGS = {"sheet": ".xlsx", "paper": ".pdf", "own_values": ".toml", "before": ".csv"}
OF_FILES = {
    "own-values": ".toml",
    "answers": ".txt",
    "log": ".csv",
    "sheet": ".pdf",
    "tables": ".xlsx",
}
OF_THE_FOLDER = ("check", "cars", "backup", "people add", "people list", "people log")
CONTENTS = {
    "empty": b"",
    "no text": b"\xff\xfe\0\x1b[2J",
    "cut off": b'{"title": "',
    "raw TOML": f'"{MARK}\x1b\u202e\x9b" = 1'.encode(),
    "value": tomli_w.dumps({"value": [{"id": HOSTILE, "unit": HOSTILE}]}).encode(),
    "raw JSON": json.dumps({HOSTILE: 1}, ensure_ascii=False).encode(),
    "JSON": json.dumps({HOSTILE: HOSTILE}).encode(),
    "twice": ("{" + ", ".join([f"{json.dumps(HOSTILE)}: 1"] * 2) + "}").encode(),
    "a case": json.dumps({"id": HOSTILE, "title": HOSTILE, "currency": HOSTILE}).encode(),
    "TOML": tomli_w.dumps({HOSTILE: {HOSTILE: 1}}).encode(),
    "job": tomli_w.dumps(
        {"job": [{"id": "own.x", "label": HOSTILE, "access": [HOSTILE]}]}
    ).encode(),
    "answers": f"43 01 {HOSTILE}".encode(),
    "zip": b"PK\x03\x04" + HOSTILE.encode() * 3,
}


@pytest.fixture(scope="session")
def well_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder in which everything of `WELL` works."""
    folder = tmp_path_factory.mktemp("well")
    workspace = open_workspace(Settings(data_folder=folder / "data"))
    write_backup(workspace, folder / "all.zip")
    workspace.people.add(Person(name="Ada", role="edit"))
    workspace.cases.engine.dispose()
    log = "time,rpm,map\n" + "".join(f"{at},3000,100\n" for at in range(50))
    (folder / "log.csv").write_text(log, encoding="utf-8")
    raw = services.load_case_file("wagon-half-repaired").model_copy(update={"draws": 1000})
    (folder / "car.json").write_text(services.case_text(raw), encoding="utf-8")
    (folder / "answers.txt").write_text("43 01 03 00 00 00 00\n", encoding="utf-8")
    return folder


@pytest.fixture(autouse=True)
def there(well_folder: Path, tmp_path: Path) -> None:
    shutil.copytree(well_folder, tmp_path, dirs_exist_ok=True)


@pytest.fixture
def said(run: Callable[..., Any], obeyed: Callable[[str], list[str]]) -> Callable[..., Any]:
    """Return what runs the program and finds nothing in what it says that a terminal obeys."""

    def go(*arguments: str) -> Any:
        done = run(*arguments)
        assert (obeyed(done.out), obeyed(done.err)) == ([], []), done
        brought = [one for one in (done.out + done.err).split("\n") if one.startswith(FAKE)]
        assert brought == []
        return done

    return go


def ending(command: str, name: str) -> str:
    return OF_FILES.get(command, ".zip") if name == "file" else ENDINGS.get(name, ".json")


def test_every_command_works_and_is_tried(
    commands: dict[str, Any], said: Callable[..., Any], line_of: Callable[..., list[str]]
) -> None:
    assert set(commands) == set(WELL)
    assert {command for command, _ in VALUES} == {
        name for name, one in commands.items() if one.params
    }
    failed = [name for name, given in WELL.items() if said(*line_of(name, given)).code != 0]
    assert failed == ["open"]


@pytest.mark.parametrize(("command", "name"), VALUES)
def test_no_argument_is_obeyed(
    command: str, name: str, said: Callable[..., Any], line_of: Callable[..., list[str]]
) -> None:
    """Each argument and each value of an option in turn: a shell fills in names of files."""
    for text in (HOSTILE, NOT_UTF8, HOSTILE + ending(command, name), "\x9b\u202e" * 400):
        done = said(*line_of(command, WELL[command] | {name: text}))
        assert done.out or done.err
        if done.code == 2:
            assert done.out == ""


@pytest.mark.parametrize("command", WELL)
def test_no_argument_too_many_is_obeyed(
    command: str, said: Callable[..., Any], line_of: Callable[..., list[str]]
) -> None:
    line = line_of(command, WELL[command])
    if command not in {"jobs", "code"}:  # which take as many as there are
        assert MARK in said(*line, "a", "b", HOSTILE).err
    for option in (f"--{HOSTILE}", f"-{HOSTILE}", f"--{HOSTILE}={HOSTILE}"):
        done = said(*command.split(), option, *line[len(command.split()) :])
        assert (done.code, done.out) == (2, "")


@pytest.mark.parametrize("line", [[HOSTILE], ["people", HOSTILE], [NOT_UTF8], [f"--{HOSTILE}"]])
def test_no_command_that_is_none_is_obeyed(line: list[str], said: Callable[..., Any]) -> None:
    done = said(*line)

    assert (done.code, done.out) == (2, "")
    assert MARK in done.err


FILES = [
    (command, name)
    for command, name in VALUES
    if name in {"case", "file", "own_values", "before", "sheet", "paper"}
]


@pytest.mark.parametrize(("command", "name"), FILES)
def test_no_file_is_obeyed_whatever_is_in_it(
    command: str,
    name: str,
    said: Callable[..., Any],
    line_of: Callable[..., list[str]],
    tmp_path: Path,
) -> None:
    """Own values are read alike by every command: all that can be wrong is tried with one."""
    path = tmp_path / (HOSTILE + ending(command, name))
    contents = list(CONTENTS.values())
    refused = 0
    for content in contents[1:5] if name == "own_values" and command != "check" else contents:
        path.write_bytes(content)
        done = said(*line_of(command, WELL[command] | {name: path.name}))
        refused += done.code == 2
        if done.code == 2:
            assert done.err.startswith("appraise: ")
            assert done.err.count("\n") == 1
            assert done.out == ""
    assert refused >= 3
    path.unlink()
    path.mkdir()
    there = WELL[command] | {name: path.name}
    if command in {"sheet", "tables"}:  # written by now
        there["force"] = "yes"
    assert MARK in said(*line_of(command, there)).err


LEFT_BY_AN_OLDER_PROGRAM = ("own_values.toml", "people.toml", "people.log")


@pytest.mark.parametrize("file", [*LEFT_BY_AN_OLDER_PROGRAM, "log_columns.json"])
def test_no_file_of_the_data_folder_is_obeyed(
    file: str, said: Callable[..., Any], line_of: Callable[..., list[str]], tmp_path: Path
) -> None:
    """Those of an older program are taken over into a database that is not there yet."""
    path, codes = tmp_path / "data" / file, set()
    for content in CONTENTS.values():
        if file in LEFT_BY_AN_OLDER_PROGRAM:
            shutil.rmtree(path.parent)
            path.parent.mkdir()
        path.write_bytes(content)
        path.chmod(0o600)
        codes |= {said(*line_of(one, WELL[one])).code for one in ("jobs", "people log", "log")}
    assert (2 in codes) == (file != "people.log")  # whose odd lines are left out


def test_a_data_folder_of_any_name_is_not_obeyed(
    said: Callable[..., Any],
    line_of: Callable[..., list[str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    folder = tmp_path / HOSTILE
    shutil.copytree(tmp_path / "data", folder)
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(folder))
    for command in OF_THE_FOLDER:
        assert said(*line_of(command, WELL[command])).code == 0
    (folder / "cases.sqlite").unlink()
    (folder / "cases.sqlite").mkdir()
    for command in OF_THE_FOLDER:
        done = said(*line_of(command, WELL[command]))
        assert (done.code, MARK in done.err) == (2, True), command


def test_a_data_folder_whose_name_is_no_text_is_refused_in_plain_text(
    said: Callable[..., Any],
    line_of: Callable[..., list[str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shutil.copytree(tmp_path / "data", tmp_path / NOT_UTF8)
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / NOT_UTF8))
    for command in ("cars", "backup", "people log", "people list"):
        done = said(*line_of(command, WELL[command]))
        assert (done.code, MARK in done.err, "UTF-8" in done.err) == (2, True, True)


def test_a_car_that_the_models_would_refuse_is_not_obeyed_where_it_is_kept(
    said: Callable[..., Any], line_of: Callable[..., list[str]], tmp_path: Path
) -> None:
    """As another program could write it into the database."""
    with closing(sqlite3.connect(tmp_path / "data" / "cases.sqlite")) as database:
        for table, column in (("cases", "title"), ("history", "who")):
            words = f"UPDATE {table} SET {column} = ?, doc = json_set(doc, '$.title', ?)"  # noqa: S608 - our own
            database.execute(words, [HOSTILE] * 2)
        database.commit()

    assert MARK in said("cars").out
    assert said("people", "log").out.count(MARK) >= 2
    for command, given in WELL.items():
        if "case" in given:
            kept = line_of(command, given | {"case": HOSTILE})
            assert (said(*kept).code, MARK in said(*kept).err) == (2, True)
