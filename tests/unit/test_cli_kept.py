"""Cars that are kept, by name on the command line."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from appraise import cli
from appraise.models.case import Case
from appraise.services import example_cases
from appraise.services.records.workspace import open_workspace
from appraise.settings import Settings

Run = Callable[..., tuple[int, str, str]]
CAR = "auction-engine-light"
EXAMPLE = next(one for one in example_cases() if one.id == CAR)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command on an empty data folder; returns exit code, output and errors."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("APPRAISE_DATABASE_URL", raising=False)
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))

    def run_one(*arguments: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["appraise", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        said = capsys.readouterr()
        code = stopped.value.code
        return (0 if code is None else int(code)), said.out, said.err

    return run_one


def keep(**changes: object) -> Case:
    """Keep the first example under other words, beside the examples."""
    made = EXAMPLE.model_copy(update=changes)
    workspace = open_workspace(Settings())
    workspace.cases.add(made)
    workspace.cases._engine.dispose()
    return made


def test_nothing_is_made_by_looking(run: Run, tmp_path: Path) -> None:
    assert run("cars") == (0, "No cars are kept yet: appraise open\n", "")
    code, _, said = run("bid", "blue estate")
    assert code == 2
    assert (
        said
        == "appraise: blue estate: there is no such file, and no example or car kept of that name\n"
    )
    assert not (tmp_path / "data").exists()


def test_a_car_is_found_by_its_id_and_by_its_title_with_the_same_result(run: Run) -> None:
    keep(id="blue-estate", title="Blue estate, smells of gasoline")
    expected = run("bid", CAR, "--json")[1]

    for name in (
        "blue-estate",
        "Blue estate, smells of gasoline",
        "BLUE ESTATE, smells of gasoline",
    ):
        code, out, said = run("bid", name, "--json")
        assert (code, said) == (0, "")
        assert json.loads(out)["walk_away_price"] == json.loads(expected)["walk_away_price"]


def test_every_name_that_the_list_gives_is_taken(run: Run) -> None:
    keep(id="blue-estate", title="Blue estate")
    code, out, _ = run("cars")

    assert code == 0
    assert "blue-estate: prospect, Blue estate\n" in out
    assert f"{EXAMPLE.title}: prospect\n" in out
    for line in out.splitlines():
        name = line.rsplit(": ", 1)[0]
        assert run("check", name)[0] == 0, name


def test_an_example_that_was_changed_is_the_changed_one_by_its_title(run: Run) -> None:
    workspace = open_workspace(Settings())
    stored = workspace.cases.load(CAR)
    changed = stored.case.model_copy(
        update={"title": "Mine now", "findings": stored.case.findings[1:2]}
    )
    workspace.cases.save(changed, stored.version)
    workspace.cases._engine.dispose()

    assert "Mine now: 1 findings" in run("check", "mine now")[1]
    assert f"{EXAMPLE.title}: {len(EXAMPLE.findings)} findings" in run("check", CAR)[1]


def test_a_title_of_several_cars_is_refused_with_their_ids(run: Run) -> None:
    keep(id="blue-1", title="Blue estate")
    keep(id="blue-2", title="Blue estate")
    code, out, said = run("bid", "Blue estate")

    assert (code, out) == (2, "")
    assert said.startswith("appraise: Blue estate: is the title of 2 cars")
    assert "blue-1" in said
    assert "blue-2" in said
    assert run("check", "blue-2")[0] == 0


def test_a_file_goes_before_a_car_of_that_name(run: Run, tmp_path: Path) -> None:
    keep(id="blue", title="Kept blue")
    file = EXAMPLE.model_copy(update={"title": "Blue in a file"})
    (tmp_path / "blue").write_text(file.model_dump_json(), encoding="utf-8")

    assert "Blue in a file:" in run("check", "blue")[1]
    (tmp_path / "blue").unlink()
    assert "Kept blue:" in run("check", "blue")[1]


def test_a_car_that_cannot_be_read_is_listed_and_stops_no_other(run: Run) -> None:
    keep(id="blue-estate", title="Blue estate")
    workspace = open_workspace(Settings())
    with workspace.cases.engine.begin() as connection:
        connection.exec_driver_sql(
            "UPDATE cases SET doc = substr(doc, 1, 99) WHERE id = 'blue-estate'"
        )
    workspace.cases._engine.dispose()
    code, out, said = run("cars")

    assert (code, said) == (0, "")
    assert "blue-estate: prospect, Blue estate (cannot be read: " in out
    assert len(out.splitlines()) == len(example_cases()) + 1
    assert run("bid", EXAMPLE.title)[0] == 0
    code, out, said = run("bid", "blue-estate")
    assert (code, out, said.count("\n")) == (2, "", 1)
    assert "cut short" in said


# --- own values -----------------------------------------------------------------------------------

OWN = "# Größe\n[[value]]\nid = 'shop.parts_markup'\nvalue = 0.95\n"


def test_own_values_are_kept_from_a_file_and_printed(run: Run, tmp_path: Path) -> None:
    """Those that do not hold together leave what was kept."""
    (tmp_path / "own.toml").write_text(OWN, encoding="utf-8")
    (tmp_path / "bad.toml").write_text("color = 1", encoding="utf-8")
    before = run("bid", CAR)[1]
    assert run("own-values") == (0, "", "")
    assert run("own-values", "own.toml")[1].startswith("own.toml: kept")
    for file, words in (("bad.toml", "color"), ("gone.toml", "no such file")):
        code, out, said = run("own-values", file)
        assert (code, out, file in said, words in said) == (2, "", True, True)

    assert run("own-values") == (0, OWN, "")
    kept = run("bid", CAR)[1]
    assert kept != before
    assert run("bid", CAR, "--own-values", "own.toml")[1] == kept


def test_own_values_in_the_file_of_an_older_program_are_read_too(run: Run, tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "own_values.toml").write_text("color = 1", encoding="utf-8")

    for command in (["bid", "demo"], ["check", "demo"], ["jobs"]):
        code, out, said = run(*command)
        assert (code, out, said.count("\n"), "own values" in said) == (2, "", 1, True)
        assert "color" in said
