"""The commands code, diagnose and log: an answer on standard output, or one clear line and 2."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from appraise import cli, services
from appraise.reports.wording import ESTIMATE

REFERENCE = services.reference_values()
PULL = "Time (s),RPM,MAP (kPa),Barometric Pressure (kPa),Accelerator Pedal (%)\n"


@dataclass(frozen=True)
class Ran:
    """What a command did."""

    code: int
    out: str
    err: str


Run = Callable[..., Ran]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> Run:
    """Run the program in this process; what it is given is all there is afterwards, unchanged."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))
    monkeypatch.chdir(tmp_path)

    def files() -> dict[Path, bytes]:
        return {one: one.read_bytes() for one in tmp_path.rglob("*") if one.is_file()}

    def go(*arguments: str) -> Ran:
        before = files()
        monkeypatch.setattr(sys, "argv", ["appraise", *arguments])
        code = 0
        try:
            cli.main()
        except SystemExit as stopped:
            code = int(stopped.code or 0)
        seen = capsys.readouterr()
        assert files() == before, "nothing is lost and nothing is written"
        return Ran(code, seen.out, seen.err)

    return go


def assert_refused(done: Ran, *words: str) -> None:
    """One line on standard error that holds the words, exit code 2, nothing else."""
    assert done.code == 2, done
    assert done.out == ""
    assert done.err.startswith("appraise: ")
    assert done.err.count("\n") == 1, done.err
    for word in words:
        assert word in done.err


def pull(top: float = 220.0, *, pedal: float = 100.0) -> str:
    """Return a log as text: a cruise, 5 s at full load from 1,500 to 5,500 rpm, a cruise."""
    rows = [(1500.0, 60.0, 20.0)] * 30
    rows += [(1500 + 80.0 * at, top if at > 12 else 100.0, pedal) for at in range(51)]
    rows += [(1500.0, 60.0, 20.0)] * 30
    lines = [
        f"{at / 10:.1f},{rpm:.0f},{pressure:.0f},100,{load:.0f}\n"
        for at, (rpm, pressure, load) in enumerate(rows)
    ]
    return PULL + "".join(lines)


def test_a_code_is_explained_however_it_is_typed(run: Run) -> None:
    plain = run("code", "P0301")

    assert plain.code == 0
    assert plain.out.startswith("P0301: misfire, cylinder 1")
    assert run("code", "p0301").out == plain.out
    assert run("code", "P0301", "P0301,p0301").out == plain.out


def test_several_codes_are_explained_in_turn(run: Run) -> None:
    out = run("code", "P0420", "P0301").out

    assert re.findall(r"^([PBCU]\d{4}):", out, re.MULTILINE) == ["P0420", "P0301"]


def test_a_raw_answer_is_decoded(run: Run) -> None:
    assert run("code", "43 01 03 01").out == run("code", "P0301").out


@pytest.mark.parametrize(
    ("code", "words"),
    [("P1234", "different things on different makes"), ("P0F0F", "powertrain")],
)
def test_an_unknown_code_is_decoded_to_its_family(run: Run, code: str, words: str) -> None:
    done = run("code", code)

    assert done.code == 0
    assert f"{code}: no entry" in done.out
    assert words in done.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["P0G99"], ("P0G99", "'G' is not a digit of a code")),
        (["P0301", "P0G99"], ("P0G99",)),
        (["P03"], ("P03", "four digits")),
        (["43", "0"], ("odd number of hex digits",)),
        (["43 02 03 0"], ("odd number of hex digits",)),
        (["43 02 03 02"], ("holds 2 codes, and 1 are here",)),
        (["zz"], ("ZZ is not a code; codes look like P0302",)),
        ([""], ("is empty",)),
        (["  "], ("is empty",)),
        (["NO DATA"], ("not the same as no codes",)),
        (["P0301\x1b[2J"], ("P0301",)),
    ],
)
def test_what_is_no_code_is_refused_in_a_clear_word(
    run: Run, arguments: list[str], words: tuple[str, ...]
) -> None:
    done = run("code", *arguments)

    assert_refused(done, *words)
    assert "\x1b" not in done.err


def test_an_answer_that_holds_no_codes_is_an_answer(run: Run) -> None:
    """A clean list is what a buyer hopes for, not a mistake of theirs."""
    done = run("code", "43 00")

    assert done.code == 0
    assert "no trouble code" in done.out.lower() or "no code" in done.out.lower()


@pytest.mark.parametrize("case", ["auction-engine-light", "farm-truck-owned"])
def test_the_faults_come_first_then_what_to_look_at(run: Run, case: str) -> None:
    done = run("diagnose", case)

    assert done.code == 0
    assert done.out.startswith("WHAT IS WRONG WITH IT, ")
    assert done.out.index("WHAT IS WRONG") < done.out.index("LOOK AT NEXT")
    assert done.out.rstrip().endswith(ESTIMATE)


def test_json_holds_numbers_under_the_keys_that_are_promised(run: Run) -> None:
    done = run("diagnose", "auction-engine-light", "--minutes", "20", "--json")
    told = json.loads(done.out)

    assert done.code == 0
    assert {"faults", "something_else", "single_fault", "care", "next"} <= set(told)
    fault = told["faults"][0]
    assert {"id", "label", "chance", "cost", "for", "against"} <= set(fault)
    assert fault["chance"] >= told["faults"][1]["chance"] > 0
    assert 0 < fault["cost"]["p10"] < fault["cost"]["p50"] < fault["cost"]["p90"]
    assert {"mean", "p10", "p90"} <= set(told["care"])
    for look in told["next"]:
        assert {"check", "worth", "minutes", "cost", "outcomes"} <= set(look)
        assert look["minutes"] <= 20
        for one in look["outcomes"]:
            assert {"label", "chance", "walk_away_price"} <= set(one)


def test_only_what_the_tools_at_hand_and_a_parked_car_allow_is_offered(run: Run) -> None:
    command = ("diagnose", "premium-overheats", "--json")
    bare = json.loads(run(*command, "--with", "scan_tool", "--no-drive").out)["next"]
    every = json.loads(run(*command).out)["next"]

    assert bare
    assert all(set(one["tools"]) <= {"scan_tool"} for one in bare)
    assert not any(one["needs"] == "driven" for one in bare)
    assert any(set(one["tools"]) - {"scan_tool"} or one["needs"] == "driven" for one in every)


@pytest.mark.parametrize("minutes", ["0", "-5", "nan", "inf", "soon", "", "1e9"])
def test_minutes_that_cannot_be_are_refused(run: Run, minutes: str) -> None:
    assert_refused(run("diagnose", "auction-engine-light", "--minutes", minutes), "minutes")


def test_a_tool_that_there_is_not_is_refused_and_the_others_are_named(run: Run) -> None:
    done = run("diagnose", "auction-engine-light", "--with", "scan_tool,ladder")

    assert_refused(done, "ladder: there is no such tool", "scan_tool")


def written(tmp_path: Path, *results: dict[str, str]) -> str:
    """Write an example with results of checks."""
    raw = json.loads(services.case_text(services.load_case_file("auction-engine-light")))
    raw["results"] = list(results)
    path = tmp_path / "car.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    return str(path)


def test_a_result_in_the_case_moves_the_odds_and_is_shown(run: Run, tmp_path: Path) -> None:
    check = REFERENCE.checks["plug_look"]
    done = run("diagnose", written(tmp_path, {"check": check.id, "outcome": check.outcomes[-1]}))
    faults = done.out.split("LOOK AT NEXT")[0]

    assert done.code == 0
    assert faults != run("diagnose", "auction-engine-light").out.split("LOOK AT NEXT")[0]
    assert f"RESULTS SO FAR\n  {check.label}: {check.outcomes[-1]}" in done.out


@pytest.mark.parametrize("command", ["diagnose", "bid", "check"])
@pytest.mark.parametrize(
    ("result", "words"),
    [
        ({"check": "ball", "outcome": "good"}, "there is no check 'ball'"),
        ({"check": "plug_look", "outcome": "odd"}, "has no outcome 'odd'"),
    ],
)
def test_an_unknown_check_or_outcome_is_named_by_every_command(
    run: Run, tmp_path: Path, command: str, result: dict[str, str], words: str
) -> None:
    done = run(command, written(tmp_path, result))

    if command == "check":
        assert words in done.out + done.err
    else:
        assert_refused(done, words)


def test_a_case_that_is_not_there_is_refused(run: Run) -> None:
    assert_refused(run("diagnose", "nosuch"), "nosuch", "no such file")


def test_a_pull_is_found_with_its_boost(run: Run, tmp_path: Path) -> None:
    (tmp_path / "drive.csv").write_text(pull(), encoding="utf-8")
    done = run("log", "drive.csv")

    assert done.code == 0
    assert "drive.csv: 111 rows" in done.out
    assert "air outside: 100.0 kPa" in done.out
    assert "pull 1: 1,500 to 5,500 rpm" in done.out
    assert "boost 120 kPa = 17.4 psi" in done.out
    narrow = run("log", "drive.csv", "--rpm-from", "6000", "--rpm-to", "7000")
    assert "no rows between 6,000 and 7,000 rpm" in narrow.out


def test_before_and_after_are_laid_over_each_other(run: Run, tmp_path: Path) -> None:
    (tmp_path / "new.csv").write_text(pull(220), encoding="utf-8")
    (tmp_path / "old.csv").write_text(pull(180), encoding="utf-8")
    done = run("log", "new.csv", "--before", "old.csv")

    assert "after over before, map_kpa:" in done.out
    assert re.search(r"on average \+\d\d kPa", done.out)


def test_a_height_stands_in_for_a_barometer(run: Run, tmp_path: Path) -> None:
    """1,609 m is 83.4 kPa in the standard atmosphere of ISO 2533; from memory."""
    (tmp_path / "bare.csv").write_text("Time (s),RPM\n0,800\n1,810\n", encoding="utf-8")

    assert "air outside: 83.4 kPa" in run("log", "bare.csv", "--height", "1609").out
    assert "air outside: 101.3 kPa" in run("log", "bare.csv").out


@pytest.mark.parametrize("height", ["nan", "inf", "99999", "-5000"])
def test_a_height_that_cannot_be_is_refused(run: Run, tmp_path: Path, height: str) -> None:
    (tmp_path / "bare.csv").write_text("Time (s),RPM\n0,800\n1,810\n", encoding="utf-8")

    assert_refused(run("log", "bare.csv", "--height", height), "height")


def test_a_log_of_one_row_is_shown_and_said_to_be_little(run: Run, tmp_path: Path) -> None:
    (tmp_path / "one.csv").write_text("Time (s),RPM\n0,800\n", encoding="utf-8")
    done = run("log", "one.csv")

    assert done.code == 0
    assert "one row only: nothing can be seen to change" in done.out


def test_a_log_of_300_columns_keeps_every_known_one(run: Run, tmp_path: Path) -> None:
    heads = ["Time (s)", *(f"X{at}" for at in range(298)), "RPM"]
    row = ",".join(str(at) for at in range(300))
    (tmp_path / "wide.csv").write_text("\n".join([",".join(heads), row, row]), encoding="utf-8")
    done = run("log", "wide.csv")

    assert done.code == 0
    assert "columns known: time_s (Time (s)), rpm (RPM)" in done.out
    assert "of 298 columns that are not of a known kind the first 100 are kept" in done.out


def test_a_log_never_at_full_load_says_so(run: Run, tmp_path: Path) -> None:
    (tmp_path / "idle.csv").write_text(pull(pedal=30), encoding="utf-8")
    done = run("log", "idle.csv")

    assert done.code == 0
    assert "never reaches full load: the pedal goes to 30 %" in done.out
    assert "pull 1" not in done.out


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"Time (s),RPM\nnone,yet\n", "text only"),
        (b"Dear Sir,\nit runs well.\n", "text only"),
        (b"Time,RPM\n0,800\n1,\x009\n", "NUL bytes"),
        (b"PK\x03\x04 rest", "not a CSV"),
    ],
)
@pytest.mark.parametrize("role", ["log", "before"])
def test_what_is_no_log_is_refused_in_a_clear_word_that_names_the_file(
    run: Run, tmp_path: Path, data: bytes, words: str, role: str
) -> None:
    (tmp_path / "odd.csv").write_bytes(data)
    (tmp_path / "good.csv").write_text(pull(), encoding="utf-8")
    done = run("log", "odd.csv") if role == "log" else run("log", "good.csv", "--before", "odd.csv")

    assert_refused(done, words, "odd.csv")


@pytest.mark.parametrize("name", ["gone.csv", ".", "a" * 5000], ids=["gone", "folder", "long"])
def test_a_log_that_cannot_be_read_is_refused(run: Run, name: str) -> None:
    assert_refused(run("log", name), name[:40])
