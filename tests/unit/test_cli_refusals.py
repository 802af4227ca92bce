"""Wrong input on the command line: one line that names the field and why, exit code 2."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from appraise import cli

GONE = object()
INTERNALS = (
    "Traceback",
    "pydantic",
    "Decimal input",
    "String should",
    "Tuple",
    "pattern",
    "after validation",
    "Datetime",
    "Errno",
    "codec",
    "Invalid JSON",
)
"""Words of the libraries underneath, which tell a buyer of cars nothing."""

CAR = {"value": "95000", "unit": "mi"}
BASE: dict[str, Any] = {
    "id": "small",
    "title": "Small case",
    "appraised_on": "2026-11-20",
    "draws": 1000,
    "vehicle": {"make": "Invented", "model": "One", "model_year": 2015, "odometer": CAR},
    "findings": [{"id": "charge", "area": "electrical", "state": "faulty"}],
    "own_jobs": [],
    "market": {
        "comparables": [
            {"id": f"c{at}", "price": "6000", "model_year": 2015, "odometer": CAR}
            for at in range(3)
        ]
    },
    "deal": {"asking_price": "3000"},
}
HOURS = {"low": 1, "likely": 2, "high": 3}
OWN_JOB = {"id": "own.one", "label": "Own", "system": "brakes", "hours": HOURS}


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Run the program in this process; what it is given is all there is afterwards."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)

    def go(*arguments: str) -> Ran:
        before = sorted(tmp_path.rglob("*"))
        monkeypatch.setattr(sys, "argv", ["appraise", *arguments])
        code = 0
        try:
            cli.main()
        except SystemExit as stopped:
            code = int(stopped.code or 0)
        seen = capsys.readouterr()
        assert sorted(tmp_path.rglob("*")) == before, "nothing is written"
        return Ran(code, seen.out, seen.err)

    return go


def assert_refused(done: Ran, *words: str) -> None:
    """One line on standard error that holds the words, exit code 2, nothing else."""
    assert done.code == 2, done
    assert done.out == ""
    assert done.err.startswith("appraise: ")
    assert len(done.err.splitlines()) == 1, done.err
    assert len(done.err) < 700, "one line that can be read"
    for one in words:
        assert one in done.err
    for one in INTERNALS:
        assert one not in done.err


def changed(*edits: tuple[str, Any]) -> dict[str, Any]:
    """Return the case with the fields at dotted paths set, or taken away."""
    case = deepcopy(BASE)
    for path, value in edits:
        *way, last = [int(part) if part.isdigit() else part for part in path.split(".")]
        place: Any = case
        for part in way:
            place = place[part]
        if value is GONE:
            del place[last]
        else:
            place[last] = value
    return case


def rng(low: Any, likely: Any, high: Any) -> dict[str, Any]:
    return {"low": low, "likely": likely, "high": high}


def faulty(**more: Any) -> list[dict[str, Any]]:
    return [{"id": "f", "area": "engine", "state": "faulty"} | more]


def cause(name: str, chance: Any, *jobs: str) -> dict[str, Any]:
    return {"id": name, "label": name, "chance": chance, "jobs": [{"job": one} for one in jobs]}


def fee(*starts: int) -> list[dict[str, Any]]:
    return [{"name": "premium", "steps": [{"starts_at": one} for one in starts]}]


NAN, INFINITY = float("nan"), float("inf")
FIVE_THOUSAND = [{"id": f"f{at}", "area": "engine", "state": "fine"} for at in range(5000)]

WRONG = [
    # path, value, the field as it is named, words of the reason
    ("deal.transport", "-5", "deal.transport", "-5"),
    ("deal.transport", NAN, "deal.transport", "not a finite number"),
    ("deal.transport", INFINITY, "deal.transport", "not a finite number"),
    ("deal.transport", -INFINITY, "deal.transport", "not a finite number"),
    ("deal.transport", "NaN", "deal.transport", "not a finite number"),
    ("deal.transport", "Infinity", "deal.transport", "not a finite number"),
    ("deal.transport", 1e300, "deal.transport", "1E+300"),
    ("deal.transport", 10**400, "deal.transport", "1000"),
    ("deal.transport", "1e999999999", "deal.transport", "1e999999999"),
    ("deal.transport", "9" * 5000, "deal.transport", "9999"),
    ("deal.transport", "100000000.01", "deal.transport", "100000000.01"),
    ("deal.transport", "1.234", "deal.transport", "'1.234'"),
    ("deal.transport", "five", "deal.transport", "'five'"),
    ("deal.transport", True, "deal.transport", "rue"),
    ("deal.asking_price", "-1", "deal.asking_price", "-1"),
    ("deal.confidence", 0, "deal.confidence", "0.1"),
    ("deal.confidence", 1, "deal.confidence", "0.99"),
    ("deal.confidence", 1.5, "deal.confidence", "1.5"),
    ("deal.confidence", NAN, "deal.confidence", "not a finite number"),
    ("deal.hours_per_day", 0, "deal.hours_per_day", "must be 0.1 or more"),
    ("deal.hours_per_day", 1e-300, "deal.hours_per_day", ""),
    ("deal.hours_per_day", 25, "deal.hours_per_day", "24"),
    ("deal.tax_percent", 101, "deal.tax_percent", "100"),
    ("deal.selling_percent", 100, "deal.selling_percent", "must be 90 or less"),
    ("deal.price_level", 0, "deal.price_level", "0.001"),
    ("deal.shop_rate", rng(90, 50, 100), "deal.shop_rate", "low (90) is above likely (50)"),
    ("deal.shop_rate", rng(30, 50, 40), "deal.shop_rate", "high (40) is below likely (50)"),
    ("deal.shop_rate", rng(0, 50, 100), "deal.shop_rate", "low is 0"),
    ("deal.shop_rate", rng(NAN, 50, 100), "deal.shop_rate.low", "not a finite number"),
    ("deal.shop_rate", {"low": 1, "high": 3}, "deal.shop_rate.likely", "is missing"),
    ("deal.shop_rate", 50, "deal.shop_rate", "object"),
    ("deal.fees", fee(100, 500), "deal.fees[0]", "a gap"),
    ("deal.fees", fee(0, 500, 300), "deal.fees[0]", "a backward step: 300 comes after 500"),
    ("deal.fees", fee(0, 500, 500), "deal.fees[0]", "a backward step"),
    ("deal.fees", fee(), "deal.fees[0].steps", "at least one"),
    ("deal.tools_owned", ["spanner_of_dreams"], "deal.tools_owned[0]", "'spanner_of_dreams'"),
    ("market.asked_to_sold", rng(0, 0, 0), "asked_to_sold", "between 0.1 and 2"),
    ("market.asked_to_sold", rng(1e-300, 1, 1e8), "asked_to_sold", ""),
    ("market.comparables", [], "market.comparables", "Enter"),
    ("market.comparables.1.id", "c0", "comparables", "'c0'"),
    ("market.comparables.1.price", 0, "market.comparables[1].price", "must be more than 0"),
    ("market.comparables.1.currency", "eur", "market.comparables[1].currency", "'eur'"),
    ("market.comparables.1.color", 1, "market.comparables[1].color", "not a known field"),
    ("market.comparables.1.seen_on", "2026-11-31", "market.comparables[1].seen_on", "2026-11-31"),
    ("market.color", 1, "market.color", "not a known field"),
    ("vehicle", GONE, "vehicle", "is missing"),
    ("vehicle", [], "vehicle", "object"),
    ("vehicle.model_year", 1800, "vehicle.model_year", "1886"),
    ("vehicle.model_year", 2014.5, "vehicle.model_year", "2014.5"),
    ("vehicle.model_year", True, "vehicle.model_year", "rue"),
    ("vehicle.odometer.value", -1, "vehicle.odometer.value", "-1"),
    ("vehicle.odometer.value", 10_000_000, "vehicle.odometer.value", "4,000,000"),
    ("vehicle.odometer.value", True, "vehicle.odometer.value", "rue"),
    ("vehicle.odometer.unit", "miles", "vehicle.odometer.unit", "'mi' or 'km'"),
    ("vehicle.odometer.color", 1, "vehicle.odometer.color", "not a known field"),
    ("vehicle.fuel", "coal", "vehicle.fuel", "'gasoline'"),
    ("vehicle.color", 1, "vehicle.color", "not a known field"),
    ("currency", "usd", "currency", "'usd'"),
    ("currency", "US$", "currency", "'US$'"),
    ("schema_version", 6, "schema_version", "newer"),
    ("schema_version", 0, "schema_version", "0"),
    ("schema_version", True, "schema_version", "rue"),
    ("appraised_on", "2026-02-30", "appraised_on", "2026-02-30"),
    ("appraised_on", "30.2.2026", "appraised_on", "30.2.2026"),
    ("appraised_on", 5, "appraised_on", "5"),
    ("appraised_on", GONE, "appraised_on", "is missing"),
    ("title", "   ", "title", ""),
    ("id", "Not An Id", "id", "'Not An Id'"),
    ("draws", 10, "draws", "1,000"),
    ("draws", 10**9, "draws", "200,000"),
    ("seed", -1, "seed", "-1"),
    ("seed", True, "seed", "rue"),
    ("note", "x" * 30_000, "note", "20000"),
    ("note", "x" * 10_000_000, "case.json", "8 MB"),
    ("color", 1, "color", "not a known field"),
    ("two\nlines\x1b[31m", 1, "lines", "not a known field"),
    ("standing", "owned", "standing", "purchase"),
    ("standing", "stolen", "standing", "'stolen'"),
    ("findings", {}, "findings", ""),
    ("findings", FIVE_THOUSAND, "findings", "400"),
    ("findings.0.chance", True, "findings[0].chance", "rue"),
    ("findings.0.area", "wings", "findings[0].area", "'wings'"),
    ("findings.0.state", "broken", "findings[0].state", "'faulty'"),
    ("findings.0.color", 1, "findings[0].color", "not a known field"),
    ("findings", faulty() * 2, "findings", "'f'"),
    ("findings", faulty(chance=0.5), "findings[0]", "faulty is certain"),
    ("findings", faulty(state="fine", jobs=[{"job": "electrical.alternator"}]), "[0]", "no jobs"),
    ("findings", faulty(jobs=[{"job": "no.such"}]), "findings[0].jobs[0].job", "'no.such'"),
    ("findings", faulty(causes=[cause("a", 0.7), cause("b", 0.4)]), "findings[0]", "1.1"),
    ("findings", faulty(causes=[cause("a", 0.2)] * 2), "findings[0]", "share one id"),
    ("findings", faulty(causes=[cause("a", -0.1)]), "findings[0].causes[0].chance", "-0.1"),
    ("findings", faulty(causes=[cause("a", 1, "x")]), "findings[0].causes[0].jobs[0].job", "'x'"),
    ("own_jobs", [OWN_JOB] * 2, "own jobs", "'own.one'"),
    ("own_jobs", [OWN_JOB | {"follows": ["own.one"]}], "own_jobs[0]", "itself"),
    ("own_jobs", [OWN_JOB | {"follows": ["no.such"]}], "own_jobs[0].follows", "'no.such'"),
    ("own_jobs", [OWN_JOB | {"access": ["no_such"]}], "own_jobs[0].access", "'no_such'"),
    ("own_jobs", [OWN_JOB | {"tools": ["no_such"]}], "own_jobs[0].tools", "'no_such'"),
    ("own_jobs", [OWN_JOB | {"cautions": ["no_such"]}], "own_jobs[0].cautions", "'no_such'"),
    ("own_jobs", [OWN_JOB | {"hours": rng(3, 2, 1)}], "own_jobs[0].hours", "low (3)"),
    ("own_jobs", [OWN_JOB | {"color": 1}], "own_jobs[0].color", "not a known field"),
]


@pytest.mark.parametrize(("path", "value", "field", "why"), WRONG)
def test_a_wrong_value_is_refused_with_its_field_and_the_reason(
    run: Run, tmp_path: Path, path: str, value: Any, field: str, why: str
) -> None:
    (tmp_path / "case.json").write_text(json.dumps(changed((path, value))), encoding="utf-8")

    assert_refused(run("bid", "case.json"), field, why)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (b"", "JSON"),
        (b"{not json", "JSON"),
        (b"[1, 2]", "not a case"),
        (b"null", "not a case"),
        (b'"words"', "not a case"),
        (b"{}x", "JSON"),
        (b"[" * 100_000, "nested"),
        (b'{"note": ' + b"[" * 100_000 + b"]" * 100_000 + b"}", "nested"),
        (b'{"schema_version": ' + b"9" * 5000 + b"}", "too long"),
        ('{"title": "\u00c9t\u00e9"}'.encode("latin-1"), "UTF-8"),
        (json.dumps(BASE).encode("utf-16"), "UTF-8"),
        (b'{"id": "a", "title": "\\ud800"}', "title"),
        (b'{"id": "a", "id": "b"}', "id"),
    ],
    ids=lambda given: repr(given[:24]),
)
def test_what_is_not_a_case_file_is_refused_by_name(
    run: Run, tmp_path: Path, content: bytes, why: str
) -> None:
    (tmp_path / "case.json").write_bytes(content)

    assert_refused(run("bid", "case.json"), "case.json", why)


def test_a_byte_order_mark_before_the_text_is_no_fault(run: Run, tmp_path: Path) -> None:
    """Some editors put U+FEFF first; readers may ignore it (RFC 8259, 8.1; from memory)."""
    (tmp_path / "case.json").write_bytes(json.dumps(BASE).encode("utf-8-sig"))

    assert run("check", "case.json").code == 0


def test_comparables_that_are_all_in_another_currency_are_refused_for_it(
    run: Run, tmp_path: Path
) -> None:
    case = deepcopy(BASE)
    for one in case["market"]["comparables"]:
        one["currency"] = "EUR"
    (tmp_path / "case.json").write_text(json.dumps(case), encoding="utf-8")

    assert_refused(run("bid", "case.json"), "market.comparables", "currency")


@pytest.mark.parametrize("command", ["bid", "check"])
@pytest.mark.parametrize("name", ["nowhere.json", "", "a" * 5000, "nul\0byte"])
def test_a_case_that_is_not_there_is_refused(run: Run, command: str, name: str) -> None:
    done = run(command, name)

    assert done.code == 2
    assert done.out == ""
    assert len(done.err.splitlines()) == 1
    assert "Traceback" not in done.err


def test_a_folder_is_not_taken_for_a_case(run: Run, tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()

    assert_refused(run("bid", "cases"), "cases", "folder")
    assert_refused(run("bid", "demo", "--own-values", "cases"), "cases", "folder")


@pytest.mark.parametrize("command", ["check", "bid"])
def test_two_faults_are_counted_on_the_one_line(run: Run, tmp_path: Path, command: str) -> None:
    case = changed(("deal.transport", "-5"), ("vehicle.model_year", 1800))
    (tmp_path / "case.json").write_text(json.dumps(case), encoding="utf-8")

    assert_refused(run(command, "case.json"), "vehicle.model_year", "(and 1 more)")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("no toml", ("not TOML",)),
        ("color = 1", ("color",)),
        ("job = 3", ("job", "list")),
        ("value = 3", ("value", "list")),
        ("value = [3]", ("value",)),
        ("[[value]]\nvalue = 3", ("value", "no id")),
        ("[[value]]\nid = 'no.such'\nvalue = 3", ("no.such",)),
        ("[[value]]\nid = 'suspect.chance'\ncolor = 3", ("suspect.chance", "color")),
        ("[[value]]\nid = 'suspect.chance'\nvalue = -3", ("suspect.chance", "-3")),
        ("[[value]]\nid = 'suspect.chance'\nvalue = nan", ("suspect.chance", "finite")),
        ("[[job]]\nid = 'own.x'", ("own.x", "is missing")),
    ],
)
def test_own_values_that_do_not_hold_together_are_refused_by_file_and_entry(
    run: Run, tmp_path: Path, text: str, words: tuple[str, ...]
) -> None:
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")

    assert_refused(run("bid", "demo", "--own-values", "own.toml"), "own.toml", *words)


def test_own_values_that_are_not_text_are_refused_by_file(run: Run, tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_bytes(b"\xff\xfe")

    assert_refused(run("bid", "demo", "--own-values", "own.toml"), "own.toml", "UTF-8")
    assert_refused(run("bid", "demo", "--own-values", "gone.toml"), "gone.toml")


def test_text_that_is_shown_moves_no_cursor(run: Run, tmp_path: Path) -> None:
    """A title is one line without control codes, or it is refused."""
    case = changed(("title", "two\nlines"))
    (tmp_path / "case.json").write_text(json.dumps(case), encoding="utf-8")
    done = run("check", "case.json")

    assert len((done.out + done.err).splitlines()) == 1
