"""The command line: what it prints, what it returns, and what it leaves alone."""

from __future__ import annotations

import json
import re
import socket
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from importlib.machinery import ModuleSpec
from math import ceil
from pathlib import Path
from typing import Any, NoReturn

import pytest

from appraise import cli, screens
from appraise.errors import AppraiseError

USAGE_ERROR = 2
PROMISED = {
    "walk_away_price",
    "walk_away_error",
    "asking_price",
    "margin",
    "if_seller_knows",
    "seller_accepts",
    "chance_of_loss",
    "chance_of_target",
    "repair",
    "resale",
    "landed_cost",
    "drivers",
    "problems",
    "seed",
    "draws",
}


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Run the program in this process, its data folder in a place of the test's own."""
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


def small_case(**changes: Any) -> dict[str, Any]:
    """Return a case with three comparables and one finding, quick to work out."""
    comparables = [
        {
            "id": f"c{at}",
            "price": price,
            "model_year": 2015,
            "odometer": {"value": 90_000 + 5_000 * at, "unit": "mi"},
        }
        for at, price in enumerate(("6400", "6150", "5900"))
    ]
    case = {
        "id": "small",
        "title": "Small case",
        "appraised_on": "2026-11-20",
        "draws": 4000,
        "seed": 7,
        "vehicle": {
            "make": "Invented",
            "model": "One",
            "model_year": 2015,
            "odometer": {"value": "95000", "unit": "mi"},
        },
        "findings": [
            {
                "id": "charge",
                "area": "electrical",
                "state": "faulty",
                "label": "No charge",
                "jobs": [{"job": "electrical.alternator"}],
            }
        ],
        "market": {"comparables": comparables},
        "deal": {"asking_price": "3000", "own_rate": "20", "target_margin": "500"},
    }
    return case | changes


@pytest.fixture
def written(tmp_path: Path) -> Callable[[dict[str, Any]], str]:
    """Write a case to a file and return its name."""

    def write(case: dict[str, Any]) -> str:
        path = tmp_path / "case.json"
        path.write_text(json.dumps(case), encoding="utf-8")
        return str(path)

    return write


def strict(text: str) -> dict[str, Any]:
    """Read JSON as the standard has it: no NaN, no Infinity (RFC 8259, section 6; from memory)."""

    def refuse(name: str) -> NoReturn:
        raise AssertionError(f"{name} is not JSON")

    found = json.loads(text, parse_constant=refuse)
    assert isinstance(found, dict)
    return found


def test_bid_in_json_holds_every_key_it_promises(run: Run, written: Any) -> None:
    done = run("bid", written(small_case()), "--json")

    assert (done.code, done.err) == (0, "")
    found = strict(done.out)
    assert set(found) >= PROMISED
    assert set(found["margin"]) == {"mean", "p10", "p50", "p90"}
    assert set(found["repair"]) >= {"mean", "p10", "p50", "p90", "own_hours"}
    assert set(found["resale"]["mended"]) == {"p10", "p50", "p90"}
    assert set(found["resale"]["as_it_stands"]) == {"p10", "p50", "p90"}
    assert (found["seed"], found["draws"], found["asking_price"]) == (7, 4000, 3000)


def test_bid_in_json_hangs_together(run: Run, written: Any) -> None:
    """Quantiles are in order, chances are chances, shares of the variance sum to 1."""
    found = strict(run("bid", written(small_case()), "--json").out)

    own_hours = found["repair"]["own_hours"]
    mended, standing = found["resale"]["mended"], found["resale"]["as_it_stands"]
    for one in (found["margin"], found["repair"], own_hours, mended, standing):
        assert one["p10"] <= one["p50"] <= one["p90"]
    assert 0 <= found["chance_of_loss"] <= 1
    # the target is above nothing, so who reaches it does not lose
    assert found["chance_of_target"] <= 1 - found["chance_of_loss"]
    # half a unit in the fourth place for each driver, which is how shares are rounded
    room = 0.5e-4 * len(found["drivers"])
    assert sum(one["share"] for one in found["drivers"]) == pytest.approx(1, abs=room)
    assert all(one["id"] and one["label"] for one in found["drivers"])
    # no fee, no tax, no transport: landed at what is asked
    assert found["landed_cost"] == 3000


def test_the_same_case_gives_the_same_json_twice(run: Run, written: Any) -> None:
    name = written(small_case())

    assert run("bid", name, "--json") == run("bid", name, "--json")


def test_at_the_walk_away_price_the_goal_holds_and_one_step_above_it_does_not(
    run: Run, written: Any
) -> None:
    """Without an asking price the bid is judged at the walk-away price.

    It is printed down to a step of at least four standard errors; twenty are above any step.
    """
    without = small_case(deal={"target_margin": "500", "confidence": "0.7"})
    found = strict(run("bid", written(without), "--json").out)
    price = found["walk_away_price"]
    step = max(5, ceil(20 * found["walk_away_error"]))
    dearer = small_case(
        deal={"target_margin": "500", "confidence": "0.7", "asking_price": price + step}
    )
    above = strict(run("bid", written(dearer), "--json").out)

    assert found["judged_at"] == "walk-away price"
    assert found["asking_price"] is None
    assert isinstance(price, int)
    assert found["chance_of_target"] >= 0.7
    assert above["chance_of_target"] < 0.7


def test_no_bid_that_works_is_an_answer(run: Run, written: Any) -> None:
    hopeless = small_case(deal={"target_margin": "90000"})
    name = written(hopeless)

    assert strict(run("bid", name, "--json").out)["walk_away_price"] is None
    page = run("bid", name)
    assert page.code == 0
    assert "WALK-AWAY PRICE: no bid works" in page.out


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("hours_per_day", "0.1"),
        ("price_level", "0.001"),
        ("confidence", "0.1"),
        ("confidence", "0.99"),
        ("finance_percent", "100"),
        ("asking_price", "100000000"),
        ("asking_price", "0"),
    ],
)
def test_allowed_extremes_still_give_json_that_is_json(
    run: Run, written: Any, field: str, value: str
) -> None:
    done = run("bid", written(small_case(deal={field: value})), "--json")

    assert (done.code, done.err) == (0, "")
    assert set(strict(done.out)) >= PROMISED


def test_warnings_stand_before_the_price(run: Run, written: Any) -> None:
    case = small_case()
    case["market"]["comparables"][0]["currency"] = "EUR"
    case["findings"][0]["severity"] = "dangerous"
    lines = run("bid", written(case)).out.splitlines()

    warnings = [at for at, line in enumerate(lines) if line.startswith("! ")]
    price = next(at for at, line in enumerate(lines) if line.startswith("WALK-AWAY PRICE"))
    assert len(warnings) >= 2
    assert max(warnings) < price
    assert any("EUR" in lines[at] and "left out" in lines[at] for at in warnings)
    assert any("dangerous" in lines[at] for at in warnings)


def test_a_comparable_in_another_currency_moves_no_price(run: Run, written: Any) -> None:
    """Left out with a warning: the answer is that of the case without it."""
    foreign, without = small_case(), small_case()
    foreign["market"]["comparables"][2] |= {"currency": "EUR", "price": "99999"}
    del without["market"]["comparables"][2]
    with_it = strict(run("bid", written(foreign), "--json").out)
    bare = strict(run("bid", written(without), "--json").out)

    assert with_it["walk_away_price"] == bare["walk_away_price"]
    assert with_it["resale"] == bare["resale"]
    told = [one for one in with_it["problems"] if one["where"].startswith("market.comparables[2]")]
    assert [one["weight"] for one in told] == ["warning"]


def test_demo_is_the_name_of_the_first_example(run: Run) -> None:
    assert run("bid", "demo") == run("bid", "auction-engine-light")


def test_check_says_how_much_there_is_and_that_nothing_is_amiss(run: Run, written: Any) -> None:
    done = run("check", written(small_case()))

    assert (done.code, done.err) == (0, "")
    assert done.out == "Small case: 1 findings, 3 comparables, nothing wrong\n"


def test_check_names_the_field_of_each_warning(run: Run, written: Any) -> None:
    case = small_case()
    del case["findings"][0]["jobs"]
    case["vehicle"]["model_year"] = 2040
    lines = run("check", written(case)).out.splitlines()

    assert any(line.startswith("warning: findings[0]: No charge") for line in lines)
    assert any(line.startswith("warning: vehicle.model_year: 2040") for line in lines)
    assert lines[-1].endswith("2 to know of")


def test_check_knows_what_bid_would_refuse(run: Run, written: Any) -> None:
    """Without a comparable bid refuses, so check does not say that nothing is amiss."""
    done = run("check", written(small_case(market={"comparables": []})))

    assert "nothing wrong" not in done.out
    assert "market.comparables" in done.out + done.err


def test_jobs_finds_what_holds_all_words(run: Run) -> None:
    lines = run("jobs", "ALTERNATOR", "used").out.splitlines()
    rows = [line for line in lines if re.match(r"[a-z_]+\.[a-z_]+ ", line)]

    assert [row.split()[0] for row in rows] == ["electrical.alternator_used"]


def test_jobs_without_a_word_lists_the_whole_catalog(run: Run) -> None:
    done = run("jobs")
    rows = [line for line in done.out.splitlines() if re.match(r"[a-z_]+\.[a-z0-9_]+ ", line)]

    assert done.code == 0
    assert f"{len(rows)} jobs;" in done.out
    assert len(rows) > 100


def test_jobs_for_a_premium_car_cost_what_the_class_factor_says(run: Run) -> None:
    """A used alternator at 65 and 2 of cleaner: 65 x 1.80 + 2 = 119 (common practice)."""
    row = re.compile(r"electrical\.alternator_used +[\d.]+ +(\d+) ")
    middle = row.search(run("jobs", "alternator", "used").out)
    dear = row.search(run("jobs", "--class", "premium", "alternator", "used").out)

    assert middle is not None
    assert dear is not None
    assert (middle[1], dear[1]) == ("67", "119")


def test_jobs_that_nobody_knows_end_with_1_and_say_so(run: Run) -> None:
    done = run("jobs", "alternator", "zeppelin")

    assert done == Ran(1, "", "no job has all of: alternator zeppelin\n")


def test_jobs_of_an_unknown_class_are_refused_with_the_known_ones(run: Run) -> None:
    done = run("jobs", "--class", "Premium")

    assert (done.code, done.out) == (USAGE_ERROR, "")
    assert len(done.err.splitlines()) == 1
    for words in ("class", "'Premium'", "mid_size", "light_truck"):
        assert words in done.err


def test_schema_is_a_json_schema_of_a_case(run: Run) -> None:
    found = strict(run("schema").out)

    assert found["title"] == "Case"
    assert found["additionalProperties"] is False
    assert {"id", "title", "appraised_on", "vehicle"} == set(found["required"])


@pytest.mark.parametrize(
    "arguments",
    [["frob"], ["bid"], ["bid", "a", "b"], ["bid", "--frob"], ["open", "--port", "abc"]],
)
def test_a_command_that_is_none_ends_with_2_and_prints_no_trace(
    run: Run, arguments: list[str]
) -> None:
    done = run(*arguments)

    assert (done.code, done.out) == (USAGE_ERROR, "")
    assert "Error: " in done.err
    assert "Traceback" not in done.err


def test_the_module_and_the_command_are_the_same(tmp_path: Path) -> None:
    """`python -m appraise` as a process of its own: one line, exit code 2, nothing written."""
    done = subprocess.run(
        [sys.executable, "-m", "appraise", "bid", "nowhere.json"],
        cwd=tmp_path,
        env={"APPRAISE_DATA_FOLDER": str(tmp_path / "data"), "PATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )

    assert (done.returncode, done.stdout) == (USAGE_ERROR, "")
    assert done.stderr.startswith("appraise: nowhere.json: ")
    assert len(done.stderr.splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


@pytest.fixture
def launcher(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Screens that end at once, so that only the way to them is tried."""
    path = tmp_path / "launch.py"
    path.write_text("raise SystemExit(0)\n", encoding="utf-8")

    def found(name: str) -> ModuleSpec:
        spec = ModuleSpec(name, None, is_package=True)
        spec.submodule_search_locations = [str(tmp_path)]
        return spec

    monkeypatch.setattr(screens, "find_spec", found)
    return path


@pytest.mark.usefixtures("launcher")
def test_a_port_in_use_is_refused_with_another_to_try() -> None:
    with socket.socket() as taken:
        taken.bind((screens.ADDRESS, 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(AppraiseError, match=f"port: {port} is in use.* --port "):
            screens.start(port=port, browser=False)


@pytest.mark.usefixtures("launcher")
@pytest.mark.parametrize("port", [-1, 65_536, 99_999_999])
def test_a_port_that_cannot_be_is_refused(port: int) -> None:
    """Ports are 16 bits wide (RFC 9293, section 3.1; from memory)."""
    with pytest.raises(AppraiseError, match="port"):
        screens.start(port=port, browser=False)
