"""The commands choose, forecast and parts: a page, one object, or files; or one line and 2."""

from __future__ import annotations

import json
import stat
import subprocess
import sys
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any, NoReturn

import openpyxl
import pypdf
import pytest

from appraise import cli, services
from appraise.models.choices import Choices
from appraise.models.forecast import Forecast
from appraise.services.cases.casework import today
from appraise.services.output import printing

CAR = "wagon-half-repaired"
ON = ("--on", "2026-11-22")
COMMANDS = ("decide", "forecast", "parts")
RAW: dict[str, Any] = json.loads(services.case_text(services.load_case_file(CAR)))
GONE = object()


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


def files(folder: Path) -> dict[Path, bytes]:
    return {one: one.read_bytes() for one in folder.rglob("*") if one.is_file()}


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Run the program in this process, in a folder of the test's own."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)

    def go(*arguments: str) -> Ran:
        monkeypatch.setattr(sys, "argv", ["appraise", *arguments])
        code = 0
        try:
            cli.main()
        except SystemExit as stopped:
            code = int(stopped.code or 0)
        seen = capsys.readouterr()
        return Ran(code, seen.out, seen.err)

    return go


@pytest.fixture
def refused(run: Run, tmp_path: Path) -> Callable[..., None]:
    """Run a command that is refused: one line that holds the words, 2, nothing written."""

    def go(arguments: tuple[str, ...], *words: str) -> None:
        before = files(tmp_path)
        done = run(*arguments)
        assert done.code == 2, done
        assert done.out == ""
        assert done.err.startswith("appraise: ")
        assert done.err.count("\n") == 1, done.err
        for word in words:
            assert word in done.err
        for inside in ("Traceback", "pydantic", "Errno"):
            assert inside not in done.err
        assert files(tmp_path) == before

    return go


def told(done: Ran) -> str:
    assert (done.code, done.err) == (0, ""), done
    return done.out


def strict(text: str) -> dict[str, Any]:
    """Read JSON as the standard has it: no NaN, no Infinity (RFC 8259, section 6; from memory)."""

    def refuse(name: str) -> NoReturn:
        raise AssertionError(f"{name} is not JSON")

    found = json.loads(text, parse_constant=refuse)
    assert isinstance(found, dict)
    return found


def write(tmp_path: Path, *edits: tuple[str, Any]) -> str:
    """Write the example with the fields at dotted paths set, or taken away."""
    case = deepcopy(RAW)
    for path, value in edits:
        *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
        place: Any = case
        for part in way:
            place = place[part]
        if value is GONE:
            del place[last]
        else:
            place[last] = value
    (tmp_path / "car.json").write_text(json.dumps(case), encoding="utf-8")
    return "car.json"


# --- pages and objects ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("command", "heads"),
    [
        ("decide", ("ADVICE", "SPENT ALREADY", "FROM TODAY ON", "THE JOBS")),
        ("forecast", ("MONEY", "YOUR HOURS", "JOB BY JOB", "LEARNED", "BOUGHT")),
        ("parts", ("TO ORDER", "LATE", "ORDERED", "HERE", "CORES", "DAY BY DAY")),
    ],
)
@pytest.mark.parametrize("car", [CAR, "farm-truck-owned"])
def test_each_command_prints_its_page(
    run: Run, tmp_path: Path, command: str, heads: tuple[str, ...], car: str
) -> None:
    out = told(run(command, car, *ON))

    assert out.splitlines()[0].endswith("2026-11-22, USD")
    for head in heads:
        assert f"\n{head}" in out
    assert all(line.isprintable() for line in out.splitlines())
    assert files(tmp_path) == {}


def test_choose_prints_one_object_that_is_the_choices(run: Run) -> None:
    out = told(run("decide", CAR, *ON, "--json"))
    found = Choices.model_validate(strict(out))

    assert found.on == date(2026, 11, 22)
    assert {one.kind for one in found.options} == {
        "as is",
        "what must be done",
        "best",
        "all repairs",
        "part out",
        "keep",
    }


def test_forecast_prints_one_object_that_is_the_forecast(run: Run) -> None:
    found = Forecast.model_validate(strict(told(run("forecast", CAR, *ON, "--json"))))

    assert found.on == date(2026, 11, 22)
    assert found.paid == Decimal("303.96")
    assert found.deposits_out == 55


def test_parts_prints_one_object_with_parts_cores_and_days(run: Run) -> None:
    found = strict(told(run("parts", CAR, *ON, "--json")))

    assert (found["currency"], found["on"], found["problems"]) == ("USD", "2026-11-22", [])
    module = next(one for one in found["parts"] if one["job"] == "fan-control")
    assert (module["state"], module["due"], module["total"]) == ("ordered", "2026-11-26", "56.66")
    assert [(one["job"], one["left"]) for one in found["cores"]] == [("alternator", "55")]
    assert found["days"][0]["on"] == "2026-11-22"
    assert {step["job"] for day in found["days"] for step in day["steps"]} >= {
        "front-pads-and-rotors"
    }


@pytest.mark.parametrize("command", COMMANDS)
def test_the_same_day_gives_the_same_answer_twice(run: Run, command: str) -> None:
    assert run(command, CAR, *ON, "--json") == run(command, CAR, *ON, "--json")


@pytest.mark.parametrize("command", COMMANDS)
def test_without_a_day_it_is_told_for_today(run: Run, command: str) -> None:
    assert strict(told(run(command, CAR, "--json")))["on"] == str(today())


def test_the_day_decides_what_is_late(run: Run) -> None:
    def state(day: str) -> str:
        found = strict(told(run("parts", CAR, "--on", day, "--json")))
        return str(next(one["state"] for one in found["parts"] if one["job"] == "fan-control"))

    assert [state(day) for day in ("2026-11-22", "2026-11-26", "2026-11-27")] == [
        "ordered",
        "ordered",
        "late",
    ]


def test_own_values_are_reckoned_with(run: Run, tmp_path: Path) -> None:
    """Nothing taken off for the trouble of a car with faults: it sells for more as it stands."""
    (tmp_path / "own.toml").write_text(
        '[[value]]\nid = "as_it_stands.hassle"\nlabel = "Own"\nunit = "share"\n'
        'range = { low = 0.001, likely = 0.001, high = 0.001 }\nkind = "own"\n'
        "checked_on = 2026-11-25\n",
        encoding="utf-8",
    )

    def price(*more: str) -> Decimal:
        found = Choices.model_validate(strict(told(run("decide", CAR, *ON, "--json", *more))))
        return next(one.price.mean for one in found.options if one.kind == "as is")

    assert price("--own-values", "own.toml") > price()


@pytest.mark.parametrize("command", COMMANDS)
def test_a_car_without_any_work_planned_is_answered(run: Run, tmp_path: Path, command: str) -> None:
    assert told(run(command, write(tmp_path, ("work", GONE)), *ON))


# --- refusals -------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", COMMANDS)
def test_a_car_that_is_not_owned_is_refused(refused: Any, command: str) -> None:
    refused((command, "dusk-curbside"), "purchase", "not bought yet", "Enter the price paid")


def test_a_car_that_cannot_be_priced_is_refused_where_a_price_is_needed(
    run: Run, refused: Any, tmp_path: Path
) -> None:
    name = write(tmp_path, ("market", {}))

    refused(("decide", name), "market.comparables", "no comparable")
    assert told(run("forecast", name, *ON))
    assert told(run("parts", name, *ON))


@pytest.mark.parametrize("command", COMMANDS)
def test_a_job_that_nobody_knows_is_refused_by_its_field(
    refused: Any, tmp_path: Path, command: str
) -> None:
    name = write(tmp_path, ("work.jobs.2.job", "no.such"))

    refused((command, name), "work.jobs.front-pads-and-rotors", "'no.such'")


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(
    ("path", "value", "field"),
    [
        ("purchase.bid", GONE, "purchase.bid"),
        ("purchase.bid", "-1", "purchase.bid"),
        ("work.jobs.0.stage", "finished", "work.jobs[0].stage"),
        ("work.jobs.0.done_on", None, "work.jobs[0]"),
        ("work.entries.0.job", "no-such", "work"),
        ("work.jobs.1.parts.0.ordered_on", "2026-02-30", "work.jobs[1].parts[0].ordered_on"),
    ],
)
def test_a_wrong_value_is_refused_by_its_field(
    refused: Any, tmp_path: Path, command: str, path: str, value: Any, field: str
) -> None:
    refused((command, write(tmp_path, (path, value))), f"car.json: {field}")


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize(
    "day",
    [
        "",
        "tomorrow",
        "20261122",
        "2026-W47-7",
        "2026-02-30",
        "22/11/2026",
        "2026-11-22T00:00",
        "\x1b",
    ],
)
def test_a_day_that_is_none_is_refused(refused: Any, command: str, day: str) -> None:
    refused((command, CAR, "--on", day), "--on", "must be a day, such as 2026-03-31")


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("day", ["0001-01-01", "1899-12-31", "2200-01-01", "9999-12-31"])
def test_a_day_too_far_off_is_refused(refused: Any, command: str, day: str) -> None:
    refused((command, CAR, "--on", day), "--on", "between 1900-01-01 and 2199-12-31")


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("day", ["1900-01-01", "2199-12-31"])
def test_the_first_and_the_last_day_are_answered(run: Run, command: str, day: str) -> None:
    assert told(run(command, CAR, "--on", day))


@pytest.mark.parametrize("command", COMMANDS)
def test_what_is_no_case_or_no_file_is_refused(refused: Any, tmp_path: Path, command: str) -> None:
    (tmp_path / "bad.json").write_text("{", encoding="utf-8")

    refused((command, "nowhere"), "nowhere", "no such file")
    refused((command, "bad.json"), "bad.json", "JSON")
    refused((command, CAR, "--own-values", "none.toml"), "none.toml", "no such file")


# --- files ----------------------------------------------------------------------------------------


def test_a_sheet_and_a_paper_are_written_and_named(run: Run, tmp_path: Path) -> None:
    out = told(run("parts", CAR, *ON, "--sheet", "a.xlsx", "--paper", "a.pdf"))

    assert out.splitlines() == [
        "a.xlsx: written, parts: 8, cores to give back: 1",
        "a.pdf: written, parts: 8, cores to give back: 1",
    ]
    written = files(tmp_path)
    assert set(written) == {tmp_path / "a.xlsx", tmp_path / "a.pdf"}
    case, reference = services.load_case_file(CAR), services.reference_values()
    day = date(2026, 11, 22)
    assert written[tmp_path / "a.xlsx"] == printing.parts_sheet(case, reference, day)
    assert written[tmp_path / "a.pdf"] == printing.parts_paper(case, reference, day)
    assert openpyxl.load_workbook(BytesIO(written[tmp_path / "a.xlsx"])).sheetnames[0] == "Parts"
    assert "Parts to buy" in pypdf.PdfReader(tmp_path / "a.pdf").pages[0].extract_text()


def test_with_an_object_asked_for_there_is_nothing_else_on_standard_output(
    run: Run, tmp_path: Path
) -> None:
    plain = told(run("parts", CAR, *ON, "--json"))

    assert told(run("parts", CAR, *ON, "--json", "--sheet", "a.xlsx")) == plain
    assert (tmp_path / "a.xlsx").is_file()


def test_a_file_that_is_there_is_not_written_over_without_force(
    run: Run, refused: Any, tmp_path: Path
) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"mine")

    refused(("parts", CAR, "--sheet", "a.xlsx", "--paper", "a.pdf"), "a.xlsx", "--force")
    refused(("parts", CAR, "--paper", "a.pdf", "--sheet", "a.xlsx", "--json"), "a.xlsx")
    told(run("parts", CAR, *ON, "--sheet", "a.xlsx", "--force"))
    assert (tmp_path / "a.xlsx").read_bytes()[:2] == b"PK"


@pytest.mark.parametrize(
    ("option", "name", "words"),
    [
        ("--sheet", "gone/a.xlsx", ("gone", "no such folder")),
        ("--paper", "gone/a.pdf", ("gone", "no such folder")),
        ("--sheet", "a.ods", ("a.ods", "--sheet should end in .xlsx")),
        ("--sheet", "car", ("car", "--sheet should end in .xlsx")),
        ("--paper", "a.xlsx", ("a.xlsx", "--paper should end in .pdf")),
        ("--paper", "", ("--paper should end in .pdf",)),
        ("--paper", "folder.pdf", ("folder.pdf", "no file")),
        ("--sheet", "a" * 300 + ".xlsx", ("cannot be written",)),
    ],
)
def test_a_file_that_cannot_be_written_is_refused_by_its_name(
    refused: Any, tmp_path: Path, option: str, name: str, words: tuple[str, ...]
) -> None:
    (tmp_path / "folder.pdf").mkdir()

    refused(("parts", CAR, option, name, "--force"), *words)


def test_if_one_of_two_files_cannot_be_written_neither_is(refused: Any, tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"mine")

    refused(
        ("parts", CAR, "--sheet", "a.xlsx", "--paper", "b" * 300 + ".pdf", "--force"),
        "cannot be written",
    )


def test_a_car_that_is_not_owned_leaves_no_file(refused: Any) -> None:
    refused(("parts", "dusk-curbside", "--sheet", "a.xlsx", "--paper", "a.pdf"), "purchase")


def test_an_ending_in_capitals_is_the_same_ending(run: Run, tmp_path: Path) -> None:
    told(run("parts", CAR, *ON, "--paper", "A.PDF"))

    assert (tmp_path / "A.PDF").is_file()


def test_a_new_file_has_the_rights_that_new_files_get(run: Run, tmp_path: Path) -> None:
    (tmp_path / "other").touch()
    told(run("parts", CAR, *ON, "--paper", "a.pdf"))

    rights = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("other", "a.pdf")]
    assert rights[0] == rights[1]


# --- quickness ------------------------------------------------------------------------------------


@pytest.mark.parametrize("command", COMMANDS)
def test_a_page_loads_neither_screens_tables_nor_what_makes_files(
    tmp_path: Path, command: str
) -> None:
    """In a process of its own; `scipy.stats` takes most of a second to import."""
    work = (
        "import sys; from appraise import cli\n"
        f"sys.argv = ['appraise', '{command}', '{CAR}']\n"
        "cli.app(standalone_mode=False)\n"
        "sys.stderr.write('HAS ' + ' '.join(sys.modules))"
    )
    done = subprocess.run(  # noqa: S603 - our own words only
        [sys.executable, "-c", work],
        env={"APPRAISE_DATA_FOLDER": str(tmp_path / "data")},
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = set(done.stderr.rsplit("HAS ", 1)[1].split())

    assert not loaded & {"pandas", "streamlit", "plotly", "typst", "xlsxwriter", "scipy.stats"}
    assert "numpy" in loaded
