"""What is made to take all memory or all time is refused early, in one line.

Elsewhere: nesting, numbers and keys of a case file (unit/test_cli_refusals), its 8 MB
(unit/test_services), photos and PDFs (unit/services/test_pictures, test_files, safe/test_images),
backups (unit/services/test_backup, safe/test_archives), logs and pasted text (safe/test_pasted).
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from appraise import cli, services
from appraise.errors import AppraiseError, BadCase, BadReference
from appraise.given import (
    LONGEST_LINE,
    MOST_DEEP,
    MOST_KEYS,
    MOST_PARTS,
    check_extent,
    file_bytes,
    file_text,
    json_of,
    toml_of,
)
from appraise.models.case import MOST_CHOICES, MOST_WORKED_OUT, Case
from appraise.models.preferences import Preferences
from appraise.reference.load import LARGEST_OWN, check_own_values, load_reference
from appraise.services.inspection.log_views import remembered_columns

DEMO = services.load_case_file("demo")
SECONDS = 3.0
"""Of the processor; without the bounds each of these took a minute or more, or all memory."""
LONGEST_MESSAGE = 1_100

Refused = Callable[[list[str]], str]


@contextmanager
def soon() -> Iterator[None]:
    started = time.process_time()
    yield
    assert time.process_time() - started < SECONDS


@pytest.fixture
def refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Refused:
    """Run the program; it has to refuse in one line, which is returned."""
    monkeypatch.setenv("APPRAISE_DATA_FOLDER", str(tmp_path / "data"))

    def go(arguments: list[str]) -> str:
        monkeypatch.setattr(sys, "argv", ["appraise", *arguments])
        with pytest.raises(SystemExit) as stopped, soon():
            cli.main()
        out, said = capsys.readouterr()
        assert (stopped.value.code, out) == (2, "")
        assert said.startswith("appraise: ")
        assert said.count("\n") == 1
        assert len(said) < LONGEST_MESSAGE
        return said

    return go


def case_text(**more: Any) -> str:
    return json.dumps(json.loads(DEMO.model_dump_json()) | more)


# --- files that are no files ----------------------------------------------------------------------


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    place = tmp_path / "pipe.zip"
    os.mkfifo(place)
    return place


COMMANDS = [
    ["bid"],
    ["bid", "demo", "--own-values"],
    ["answers", "--case", "demo"],
    ["log"],
    ["log", "demo", "--before"],
    ["restore"],
]
"""Each takes a file as its last argument."""


@pytest.mark.skipif(not Path("/dev/zero").is_char_device(), reason="this system has no /dev/zero")
@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_device_without_an_end_is_no_file(refused: Refused, command: list[str]) -> None:
    assert "/dev/zero" in refused([*command, "/dev/zero"]) or "demo" in command


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_a_pipe_that_nobody_writes_into_keeps_nobody_waiting(
    refused: Refused, pipe: Path, command: list[str]
) -> None:
    refused([*command, str(pipe)])


def test_neither_does_one_in_the_data_folder(tmp_path: Path) -> None:
    if not hasattr(os, "mkfifo"):
        pytest.skip("this system has no named pipes")
    place = tmp_path / "log_columns.json"
    os.mkfifo(place, 0o600)
    with pytest.raises(AppraiseError, match="log_columns"):
        remembered_columns(place)


def test_only_so_much_of_a_file_is_read(tmp_path: Path) -> None:
    place = tmp_path / "file"
    place.write_bytes(b"x" * 2**20)
    assert len(file_bytes(place, 2**20)) == 2**20
    place.write_bytes(b"x" * (2**20 + 1))
    with pytest.raises(AppraiseError, match="is larger than 1 MB"):
        file_bytes(place, 2**20)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("gone", "there is no such file"),
        ("file/below", "there is no such file"),
        ("nul\0", "there is no such file"),
        ("x" * 5_000, "cannot be read"),
        (".", "is a folder, not a file"),
    ],
)
def test_what_is_no_file_is_told(tmp_path: Path, name: str, words: str) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(AppraiseError, match=words):
        file_bytes(tmp_path / name, 10)


def test_text_is_read_as_editors_write_it(tmp_path: Path) -> None:
    place = tmp_path / "file"
    place.write_bytes(b"\xef\xbb\xbfa\r\nb\rc")
    assert file_text(place, 100) == "a\nb\nc"
    place.write_bytes(b"\xff")
    with pytest.raises(AppraiseError, match="is not text in UTF-8"):
        file_text(place, 100)


# --- JSON -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("part", ["{}", "[]", "0"])
@pytest.mark.parametrize("field", ["findings", "papers", "vehicle", "nobody_knows_it"])
def test_a_case_of_very_many_parts_is_refused_before_they_are_looked_at(
    part: str, field: str
) -> None:
    many = "[" + f"{part}," * 450_000 + part + "]"
    with soon(), pytest.raises(BadCase) as caught:
        services.read_case(case_text(**{field: "@"}).replace('"@"', many))

    assert len(caught.value.problems) == 1
    assert "more parts than anything" in str(caught.value)


def test_an_object_of_very_many_fields_is_refused() -> None:
    many = {f"f{at}": 1 for at in range(200_000)}
    with soon(), pytest.raises(BadCase, match="more than 500 fields"):
        services.read_case(case_text(**many))


def test_a_key_that_stands_twice_at_the_very_end_is_found_soon() -> None:
    text = "{" + "".join(f'"k{at}":1,' for at in range(60_000)) + '"k59999":2}'
    with soon(), pytest.raises(BadCase, match="k59999: stands there twice"):
        services.read_case(text)


@pytest.mark.parametrize("exponent", ["9" * 25, "-" + "9" * 25, "9" * 100_000])
def test_an_exponent_beyond_all_reckoning_is_refused(exponent: str) -> None:
    with soon(), pytest.raises(BadCase, match="a number too long"):
        services.read_case(case_text(note="@").replace('"@"', f"1e{exponent}"))


@pytest.mark.parametrize("number", ["0." + "1" * 5_000_000, "1e999999999", "9" * 4_000])
def test_a_long_number_is_refused_by_its_field_in_few_words(number: str) -> None:
    with soon(), pytest.raises(BadCase) as caught:
        services.read_case(case_text(appraised_on="@").replace('"@"', number))

    assert "appraised_on" in str(caught.value)
    assert len(str(caught.value)) < 300


def test_a_layout_of_thousands_of_digits_makes_no_line_of_thousands() -> None:
    with pytest.raises(AppraiseError) as caught:
        services.read_case(case_text(schema_version="@").replace('"@"', "9" * 4_000))

    assert len(str(caught.value)) < LONGEST_MESSAGE
    assert "…" in str(caught.value)
    assert "newer" in caught.value.hint


def test_json_is_read_with_its_decimals_exact() -> None:
    assert [str(one) for one in json_of('[0.10, 1e2, 3, "x"]')] == ["0.10", "1E+2", "3", "x"]


def test_what_a_document_may_hold_is_met_exactly() -> None:
    check_extent([[]] * (MOST_PARTS - 1))
    check_extent({str(at): at for at in range(MOST_KEYS)})
    check_extent(deep(MOST_DEEP))
    with pytest.raises(ValueError, match="more parts"):
        check_extent([[]] * MOST_PARTS)
    with pytest.raises(ValueError, match="fields"):
        check_extent({str(at): at for at in range(MOST_KEYS + 1)})
    with pytest.raises(ValueError, match="deep"):
        check_extent(deep(MOST_DEEP + 1))


def deep(levels: int) -> Any:
    inner: Any = 1
    for _ in range(levels):
        inner = [inner]
    return inner


def test_preferences_of_very_many_parts_are_refused_too() -> None:
    with soon(), pytest.raises(ValueError, match="more parts"):
        Preferences.model_validate({"venues": [{}] * 450_000})


# --- what can be worked out -----------------------------------------------------------------------


def heavy(findings: int, causes: int, jobs: int, draws: int) -> dict[str, Any]:
    """Return a case in which each cause names so many jobs."""
    named = [{"job": "own.one"} for _ in range(jobs)]
    behind = [
        {"id": f"c{at}", "label": "c", "chance": "0.01", "jobs": named} for at in range(causes)
    ]
    found = [
        {"id": f"f{at}", "area": "engine", "state": "suspect", "causes": behind}
        for at in range(findings)
    ]
    hours = {"low": 1, "likely": 2, "high": 3}
    own = {"id": "own.one", "label": "One", "system": "brakes", "hours": hours}
    bare = {"findings": found, "own_jobs": [own], "papers": [], "measurements": []}
    raw: dict[str, Any] = json.loads(DEMO.model_dump_json()) | bare | {"draws": draws}
    return raw


def test_a_case_that_would_take_hours_to_work_out_is_refused_as_it_comes() -> None:
    """Findings, causes and jobs, each within its bound: a hundred thousand jobs together."""
    with soon(), pytest.raises(BadCase, match=r"12,000 jobs; they may name 4,000"):
        services.read_case(json.dumps(heavy(40, 10, 30, 20_000)))
    with soon(), pytest.raises(BadCase, match=r"it may have 13,885 draws"):
        services.read_case(json.dumps(heavy(40, 9, 10, 20_000)))


def test_what_may_be_worked_out_is_met_exactly() -> None:
    jobs = 40 * 5 * 5
    most = MOST_WORKED_OUT // (jobs + 1)
    assert Case.model_validate(heavy(40, 5, 5, most)).draws == most
    with pytest.raises(ValueError, match="too much to work out"):
        Case.model_validate(heavy(40, 5, 5, most + 1))
    assert Case.model_validate(heavy(200, 4, 5, 1_000))
    assert MOST_CHOICES == 200 * 4 * 5


# --- TOML -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a" + ".a" * 200_000 + "=1", "line 1 is longer"),
        ("\n[" + "a." * 200_000 + "a]", "line 2 is longer"),
        ("a = " + "[\n" * 100_000, "nested too deep"),
        ("a = " + "[" * (LONGEST_LINE - 4), "nested too deep"),
        ("a = " + "{a=" * 7_000, "nested too deep"),
        ("a = " + "9" * 5_000, "number in it is too long"),
        ("a = 9223372036854775808", "number in it is too long"),
        ("a = [[-9223372036854775809]]", "number in it is too long"),
        ("a = 1e" + "9" * 25, "number in it is too long"),
        ("a = 0x" + "f" * 20_000, "number in it is too long"),
        ("\n".join(f"a{at} = 1" for at in range(501)), "more than 500 fields"),
        ("[[a]]\n" * 60_000, "more parts"),
        ("a = '\0'", "invalid character"),
    ],
    ids=lambda given: repr(given[:20]),
)
def test_toml_made_to_hurt_is_refused_soon(text: str, words: str) -> None:
    with soon(), pytest.raises(ValueError, match=words) as caught:
        toml_of(text)
    assert len(str(caught.value)) < 300
    with soon(), pytest.raises(BadReference, match=words):
        check_own_values(text)


def test_long_names_in_dots_within_a_line_that_may_be_are_refused_in_good_time() -> None:
    line = "a" + ".a" * (LONGEST_LINE // 2 - 5) + "=1"
    with soon(), pytest.raises(ValueError, match="nested too deep"):
        toml_of(line)


def test_whole_numbers_of_toml_are_those_it_promises() -> None:
    assert toml_of("a = [9223372036854775807, -9223372036854775808, true]")["a"][2] is True


def test_own_values_are_no_longer_than_the_catalog(tmp_path: Path) -> None:
    place = tmp_path / "own.toml"
    place.write_text("#" * 20_000 + "\n")
    assert load_reference(place).jobs
    place.write_text(("#" * 20_000 + "\n") * 60)
    assert place.stat().st_size > LARGEST_OWN
    with pytest.raises(BadReference, match=r"own\.toml: is larger than 1 MB"):
        load_reference(place)
    with pytest.raises(BadReference, match="is larger than 1 MB"):
        check_own_values(place.read_text())


def test_ten_thousand_jobs_of_ones_own_are_looked_at_in_good_time() -> None:
    text = "\n".join(
        f"[[job]]\nid = 'own.x{at}'\nlabel = 'l'\nsystem = 'brakes'\nhours = [1, 2, 3]"
        for at in range(10_000)
    )
    started = time.process_time()
    assert "own.x9999" in check_own_values(text).jobs
    assert time.process_time() - started < 8  # it took four times that when each looked at all


@pytest.mark.parametrize("text", ["[" * 100_000, "[1]", '{"a": 1, "a": 2}', "1e" + "9" * 25])
def test_remembered_columns_that_are_none_are_told(tmp_path: Path, text: str) -> None:
    place = tmp_path / "log_columns.json"
    place.write_text(text)
    with pytest.raises(AppraiseError, match="remove it to begin anew"):
        remembered_columns(place)
