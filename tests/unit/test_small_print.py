"""Every command and paper that gives a figure ends with the small print; work has its cautions."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from collections.abc import Callable
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from pypdf import PdfReader

from appraise import cli, services
from appraise.engine.catalog.cautions import READY, on_this_car
from appraise.models.case import Case
from appraise.reference.jobs import job_of_case
from appraise.reference.load import Reference
from appraise.reports.cautions import cautions_ahead, closing
from appraise.reports.paper import parts_paper
from appraise.reports.wording import ESTIMATE
from appraise.services.output import printing
from appraise.services.output.printing import parts_sheet_of as parts_sheet

CASES = {case.id: case for case in services.example_cases()}
OWNED = ("wagon-half-repaired", "farm-truck-owned")
REFERENCE = services.reference_values()
DAY = date(2026, 11, 24)
Run = Callable[..., str]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Return what a command prints, its data folder in a place of the test's own."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)

    def go(*arguments: str) -> str:
        monkeypatch.setattr(sys, "argv", ["appraise", *arguments])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        assert not ended.value.code
        return capsys.readouterr().out

    return go


def words(text: str) -> str:
    return " ".join(text.replace("  ! ", " ").split())


def pdf_words(content: bytes) -> str:
    return words(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages))


def test_it_sends_everybody_to_those_who_decide() -> None:
    decide = "An estimate, not advice: the maker's data, local law and licensed people decide."

    assert decide == ESTIMATE


FIGURES = [
    ("bid", "demo"),
    ("diagnose", "demo"),
    ("papers", "demo"),
    ("code", "P0302"),
    ("jobs", "alternator"),
    *((command, name) for command in ("forecast", "decide", "parts") for name in OWNED),
]
"""Commands whose page ends with it."""
TESTED_APART = {"log", "answers", "sheet"}
NO_FIGURES = {
    *("open", "check", "vin", "tables", "cars", "backup", "restore", "schema", "own-values"),
    *(f"people {one}" for one in ("add", "list", "remove", "password", "role", "log")),
}


def test_every_command_gives_figures_or_not(commands: dict[str, Any]) -> None:
    """A new command has to be put into one of these."""
    assert set(commands) == {*(one for one, _ in FIGURES), *TESTED_APART, *NO_FIGURES}


@pytest.mark.parametrize("arguments", FIGURES)
def test_a_command_that_gives_figures_ends_with_it(run: Run, arguments: tuple[str, ...]) -> None:
    assert run(*arguments).rstrip().splitlines()[-1] == ESTIMATE


def test_a_log_warns_of_the_drive_and_answers_end_with_it(run: Run, tmp_path: Path) -> None:
    log, answers = tmp_path / "log.csv", tmp_path / "answers.txt"
    log.write_text("time,rpm,pedal,MAP\n0,2000,100,150\n1,3000,100,170\n", encoding="utf-8")
    answers.write_text("43 00\n", encoding="utf-8")
    page = run("log", str(log))

    assert page.rstrip().splitlines()[-1] == ESTIMATE
    assert REFERENCE.cautions["road_test"].text in words(page)
    assert run("answers", str(answers), "--case", "demo").rstrip().endswith(ESTIMATE)


@pytest.mark.parametrize("name", OWNED)
@pytest.mark.parametrize("command", ["forecast", "decide", "parts"])
def test_the_work_ahead_carries_its_cautions_each_once(run: Run, command: str, name: str) -> None:
    case = CASES[name]
    text = words(run(command, name))
    jobs = [job_of_case(case, one.job, REFERENCE) for one in case.work.jobs if one.open]
    names = {one for job in jobs if job is not None for one in job.cautions}

    assert {"raised_car", "brake_dust"} <= names
    for one in names:
        assert text.count(REFERENCE.cautions[one].text) == 1


def test_a_fault_without_a_job_is_warned_of_by_what_its_causes_need() -> None:
    """Of the first example: ignition, gasoline injection, an engine to lift."""
    found = cautions_ahead(CASES["auction-engine-light"], REFERENCE)

    assert {"ignition_voltage", "gasoline_high_pressure", "lifting"} <= set(found)


def test_a_fault_that_came_to_nothing_and_a_job_that_is_done_warn_of_nothing() -> None:
    case = CASES["wagon-half-repaired"]
    done = [one.model_copy(update={"stage": "dropped"}) for one in case.work.jobs]
    work = case.work.model_copy(update={"jobs": tuple(done)})
    settled = case.model_copy(update={"work": work, "findings": (case.findings[3],)})

    assert case.findings[3].truth is not None
    assert cautions_ahead(settled, REFERENCE) == ()
    assert closing(settled, REFERENCE).split("\n") == ["", ESTIMATE]


@pytest.mark.parametrize("fuel", ["hybrid", "plug_in_hybrid", "electric"])
def test_a_car_that_may_start_by_itself_says_so_wherever_hands_are_near(fuel: str) -> None:
    car = CASES["hybrid-battery-light"].vehicle
    electric = car.model_copy(update={"fuel": type(car.fuel)(fuel)})
    other = car.model_copy(update={"fuel": type(car.fuel)("gasoline")})

    assert on_this_car(("belts_and_fans",), electric) == ("belts_and_fans", READY)
    assert on_this_car((READY, "raised_car"), electric) == (READY, "raised_car")
    assert on_this_car(("paint_fumes",), electric) == ("paint_fumes",)
    assert on_this_car(("belts_and_fans",), other) == ("belts_and_fans",)


def test_checks_on_a_hybrid_say_so_too() -> None:
    hybrid = CASES["hybrid-battery-light"].model_copy(update={"results": ()})
    found = services.diagnose_case(hybrid, REFERENCE).next
    near = [
        (one.id, on_this_car(one.cautions, hybrid.vehicle))
        for one in REFERENCE.checks.values()
        if "engine_running" in one.cautions
    ]
    assert all(READY in one.cautions for one in found if "engine_running" in one.cautions)

    assert near
    assert [name for name, cautions in near if READY not in cautions] == []


@pytest.mark.parametrize("name", OWNED)
@pytest.mark.parametrize(
    "paper", [printing.bid_sheet, printing.work_sheet, printing.buyers_sheet, None]
)
def test_every_paper_says_it_once(
    name: str, paper: Callable[[Case, Reference, date], bytes] | None
) -> None:
    case = CASES[name]
    made = (
        parts_paper(case, printing.parts_lists(case, REFERENCE, DAY))
        if paper is None
        else paper(case, REFERENCE, DAY)
    )

    assert pdf_words(made).count(ESTIMATE) == 1


def test_the_version_is_that_of_the_package_and_costs_no_heavy_import() -> None:
    root = Path(__file__).parents[2]
    told = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    look = (
        "import sys; from appraise import cli; sys.argv = ['appraise', '--version']\n"
        "try: cli.main()\n"
        "finally: print(sorted({'numpy', 'pydantic', 'sqlalchemy'} & set(sys.modules)))"
    )
    run = [sys.executable, "-c", look]
    ran = subprocess.run(run, capture_output=True, text=True, check=True, cwd=root)  # noqa: S603

    assert ran.stdout.split("\n")[:2] == [told["version"], "[]"]


def test_every_sheet_of_a_workbook_prints_it_at_its_foot() -> None:
    case = CASES["farm-truck-owned"]
    made = parts_sheet(case, printing.parts_lists(case, REFERENCE, DAY))
    with ZipFile(BytesIO(made)) as book:
        names = [one for one in book.namelist() if one.startswith("xl/worksheets/sheet")]
        texts = [book.read(one).decode() for one in names]

    assert len(texts) == 3
    assert [one for one in texts if f"<oddFooter>&amp;L&amp;8{ESTIMATE}" not in one] == []
