"""The commands vin, papers and answers: an answer on standard output, or one clear line and 2."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from appraise import cli, services

CAR = "auction-engine-light"
NUMBER = "AS1CL5BE6EA104417"
SCAN = "41 01 00 07 E5 21\n43 00\n47 00\n4A 01 04 20\n41 30 02\n41 31 00 14\n"


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


def told(done: Ran) -> str:
    assert (done.code, done.err) == (0, ""), done
    return done.out


def file_with(tmp_path: Path, *papers: dict[str, Any]) -> str:
    case = services.load_case_file(CAR)
    rows = [{"id": f"paper-{at}", **one} for at, one in enumerate(papers, 1)]
    text = services.case_text(services.changed(case, ("papers",), rows))
    (tmp_path / "car.json").write_text(text, encoding="utf-8")
    return "car.json"


# --- vin ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "written", [NUMBER, NUMBER.lower(), " AS1CL5BE6 EA-104417 ", f"*{NUMBER}*"]
)
def test_a_number_is_read_however_it_is_written(run: Run, written: str) -> None:
    """The check digit of this invented number was worked out by hand: 237 modulo 11 is 6."""
    out = told(run("vin", written, "--model-year", "2014"))

    assert out.splitlines()[0] == NUMBER
    assert "6: holds (237 modulo 11)" in out
    assert "\n!" not in out


@pytest.mark.parametrize(
    ("written", "words"),
    [
        (NUMBER[:-1], "16 characters, 1 too few"),
        (f"{NUMBER}7", "18 characters, 1 too many"),
        (f"\N{CYRILLIC CAPITAL LETTER A}{NUMBER[1:]}", "U+0410 cyrillic capital letter a"),
        ("", "no number is written"),
        ("AS1CL5BE6EA1O4417", "O at position 13 read as 0"),
        ("1" * 17, "a placeholder"),
        ("\x1b[31mred", r"'\x1b' at position 1"),
    ],
)
def test_a_number_that_is_none_is_told_what_is_wrong_first(
    run: Run, written: str, words: str
) -> None:
    lines = told(run("vin", written, "--model-year", "2014")).splitlines()

    assert lines[2].startswith("! ")
    assert words in lines[2]
    assert all(line.isprintable() for line in lines)


def test_the_papers_year_is_compared_with_the_numbers(run: Run) -> None:
    said = "the number says model year 2014, the papers say 2010"

    assert said in told(run("vin", NUMBER, "--model-year", "2010"))
    assert said not in told(run("vin", NUMBER))


# --- papers ---------------------------------------------------------------------------------------


def test_papers_names_the_worst_first_and_says_what_each_proves(run: Run) -> None:
    lines = told(run("papers", CAR)).splitlines()

    assert lines[0].endswith(": 2 papers")
    marks = [line[0] for line in lines[1 : lines.index("")]]
    assert marks == sorted(marks), "! stands before -"
    assert "invoice, 2026-04-21, Quennock Auto Service" in lines
    assert any("strong (factor 14.0)" in line for line in lines)
    at = lines.index("inspection certificate, 2025-11-06, Dunmarrick test lane")
    assert lines[at + 1] == "  speaks to no finding"


def test_papers_says_of_a_paid_invoice_that_it_is_strong(run: Run) -> None:
    out = told(run("papers", "hybrid-battery-light"))

    assert "on Hybrid system light, one block reads low: strong (factor 14.0)" in out
    assert "  171,300 km on 2025-06-18, invoice of 2025-06-18" in out


def test_papers_ticks_off_what_is_in_hand(run: Run, tmp_path: Path) -> None:
    out = told(run("papers", file_with(tmp_path, {"kind": "bill_of_sale"})))

    assert "  [x] Bill of sale" in out
    assert "  [ ] Title, the original" in out


def test_papers_shows_a_car_without_any(run: Run) -> None:
    out = told(run("papers", "premium-overheats"))

    assert out.splitlines()[0].endswith(": 0 papers")
    assert "in the United States the mileage is exempt" in out


def test_papers_with_an_own_value_weighs_by_it(run: Run, tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text(
        '[[value]]\nid = "paper.kind.invoice"\nlabel = "Own"\nunit = "factor"\nvalue = 4\n'
        'kind = "own"\nchecked_on = 2026-11-25\n',
        encoding="utf-8",
    )
    out = told(run("papers", "hybrid-battery-light", "--own-values", "own.toml"))

    assert "some (factor 4.0)" in out


def test_papers_refuses_what_is_no_case(run: Run, tmp_path: Path) -> None:
    (tmp_path / "bad.json").write_text("{", encoding="utf-8")

    assert_refused(run("papers", "nowhere"), "nowhere", "no such file")
    assert_refused(run("papers", "bad.json"), "bad.json")
    assert_refused(run("papers", CAR, "--own-values", "none.toml"), "none.toml", "no such file")


@pytest.mark.parametrize(
    ("changes", "where"),
    [
        ({"kind": "letter"}, "papers[0].kind"),
        ({"kind": "invoice", "dated": "2026-02-30"}, "papers[0].dated"),
        ({"kind": "invoice", "total": "-1"}, "papers[0].total"),
        ({"kind": "invoice", "issuer": "two\nlines"}, "papers[0].issuer"),
        ({"kind": "invoice", "color": "red"}, "papers[0].color"),
    ],
)
def test_papers_refuses_a_paper_that_cannot_be_by_its_field(
    run: Run, tmp_path: Path, changes: dict[str, Any], where: str
) -> None:
    raw = json.loads(services.case_text(services.load_case_file(CAR)))
    raw["papers"] = [{"id": "one", **changes}]
    (tmp_path / "car.json").write_text(json.dumps(raw), encoding="utf-8")

    assert_refused(run("papers", "car.json"), where)


def test_papers_refuses_a_paper_without_a_kind_by_its_field(run: Run, tmp_path: Path) -> None:
    raw = json.loads(services.case_text(services.load_case_file(CAR)))
    raw["papers"] = [{"id": "one"}]
    (tmp_path / "car.json").write_text(json.dumps(raw), encoding="utf-8")

    assert_refused(run("papers", "car.json"), "papers[0].kind")


# --- answers --------------------------------------------------------------------------------------


def test_answers_shows_codes_counters_a_recent_clear_and_inspections(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "scan.txt").write_text(SCAN, encoding="utf-8")
    out = told(run("answers", "scan.txt", "--case", CAR))

    for words in (
        "confirmed codes: none",
        "permanent codes: P0420",
        "cleared not long ago: strong sign",
        "only 2 warm-ups, 20 km since",
        "check your State / country",
    ):
        assert words in out
    assert "us guidance fails: 2 not complete (catalyst, oxygen sensor); 1 may be" in " ".join(
        out.split()
    )


def test_answers_lists_what_was_not_read(run: Run, tmp_path: Path) -> None:
    (tmp_path / "scan.txt").write_text("41 01 00 07 E5 00\n43 00\n", encoding="utf-8")
    out = told(run("answers", "scan.txt", "--case", CAR))

    assert "cleared not long ago: unknown" in out
    assert "  not read: permanent codes (mode 0A), warm-ups since the clear (PID 30)" in out


def test_answers_with_an_own_threshold_judges_by_it(run: Run, tmp_path: Path) -> None:
    (tmp_path / "scan.txt").write_text(
        "41 01 00 07 E5 00\n43 00\n4A 00\n41 30 06\n41 31 03 20\n", encoding="utf-8"
    )
    (tmp_path / "own.toml").write_text(
        '[[value]]\nid = "cleared.few_warm_ups"\nlabel = "Own"\nunit = "count"\nvalue = 6\n'
        'kind = "own"\nchecked_on = 2026-11-25\n',
        encoding="utf-8",
    )
    plain = run("answers", "scan.txt", "--case", CAR)
    mine = run("answers", "scan.txt", "--case", CAR, "--own-values", "own.toml")

    assert "cleared not long ago: no sign" in told(plain)
    assert "cleared not long ago: sign" in told(mine)


def test_answers_refuses_what_it_cannot_read(run: Run, tmp_path: Path) -> None:
    for name, text in (("empty.txt", b""), ("words.txt", b"hello"), ("scan.txt", SCAN.encode())):
        (tmp_path / name).write_bytes(text)

    assert_refused(
        run("answers", "empty.txt", "--case", CAR), "empty.txt", "no answer that can be read"
    )
    assert_refused(run("answers", "words.txt", "--case", CAR), "no answer that can be read")
    assert_refused(run("answers", "none.txt", "--case", CAR), "none.txt", "no such file")
    assert_refused(run("answers", ".", "--case", CAR))
    assert_refused(run("answers", "scan.txt", "--case", "nowhere"), "nowhere")


def test_vin_compares_with_the_number_on_a_paper(run: Run) -> None:
    same = told(run("vin", NUMBER, "--other", NUMBER.lower()))
    different = told(run("vin", NUMBER, "--other", f"{NUMBER[:-1]}9"))

    assert "result: same" in same
    assert "result: same" not in different
    assert "result:" in different
