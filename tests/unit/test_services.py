"""What the program can do, one function at a time."""

from __future__ import annotations

import json
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

import appraise
from appraise import services
from appraise.errors import BadCase, BadReference, CannotPrice, CaseNotFound, NewerSchema
from appraise.models.appraisal import Appraisal
from appraise.models.case import SCHEMA_VERSION, Case
from appraise.models.market import Market
from appraise.models.told import Told

EXAMPLES = services.example_cases()
EIGHT_MB = 8 * 2**20


def example(name: str) -> Case:
    return next(case for case in EXAMPLES if case.id == name)


def test_a_case_text_is_read_back_as_the_same_case() -> None:
    for case in EXAMPLES:
        assert services.read_case(services.case_text(case)) == case


def test_a_case_text_states_its_defaults() -> None:
    """A later program with other defaults still reads what was meant."""
    written = json.loads(services.case_text(example("dusk-curbside")))

    assert written["schema_version"] == SCHEMA_VERSION
    assert (written["currency"], written["standing"], written["draws"]) == (
        "USD",
        "prospect",
        20_000,
    )
    assert written["deal"]["price_level"] == "1"


def test_every_fault_of_a_case_is_found_at_once_each_with_its_path() -> None:
    raw = json.loads(services.case_text(example("dusk-curbside")))
    raw["deal"]["transport"] = "-5"
    raw["vehicle"]["model_year"] = 1800
    raw["findings"][2]["area"] = "wings"
    raw["market"]["comparables"][3]["color"] = "red"
    with pytest.raises(BadCase) as refused:
        services.read_case(json.dumps(raw), "curb.json")

    assert {problem.where for problem in refused.value.problems} == {
        "deal.transport",
        "vehicle.model_year",
        "findings[2].area",
        "market.comparables[3].color",
    }
    assert {problem.weight for problem in refused.value.problems} == {"stop"}
    assert str(refused.value).startswith("curb.json: ")
    assert "(and 3 more)" in str(refused.value)


def test_a_newer_layout_is_refused_before_anything_else_is_looked_at() -> None:
    """Its other fields may well be unknown here, which would only mislead."""
    with pytest.raises(NewerSchema, match=r"schema_version: .*layout 99.*up to 5") as refused:
        services.read_case('{"schema_version": 99, "unheard_of": 1}', "next.json")

    assert refused.value.where == "next.json: schema_version"
    assert "newer program" in refused.value.hint


def test_a_file_is_read_and_a_name_is_an_example(tmp_path: Path) -> None:
    path = tmp_path / "mine.json"
    path.write_text(services.case_text(example("farm-truck-owned")), encoding="utf-8")

    assert services.load_case_file(str(path)) == example("farm-truck-owned")
    assert services.load_case_file("farm-truck-owned") == example("farm-truck-owned")
    assert services.load_case_file("demo") == EXAMPLES[0]


def test_a_file_of_an_example_s_name_goes_before_the_example(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    text = services.case_text(example("farm-truck-owned"))
    Path("dusk-curbside").write_text(text, encoding="utf-8")

    assert services.load_case_file("dusk-curbside").id == "farm-truck-owned"


def test_a_file_that_is_not_there_is_not_found() -> None:
    with pytest.raises(CaseNotFound, match=r"^nowhere\.json: there is no such file"):
        services.load_case_file("nowhere.json")


def test_a_file_is_refused_by_its_size_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "big.json"
    with path.open("wb") as file:
        file.truncate(EIGHT_MB + 1)
    with pytest.raises(BadCase, match="8 MB"):
        services.load_case_file(str(path))

    with path.open("wb") as file:
        file.truncate(EIGHT_MB)
    with pytest.raises(BadCase, match="JSON"):
        services.load_case_file(str(path))


def test_a_check_finds_nothing_that_stops_an_example() -> None:
    reference = services.reference_values()
    for case in EXAMPLES:
        weights = {problem.weight for problem in services.check_text(case, reference)}
        assert "stop" not in weights


def test_a_case_without_comparables_is_not_priced_and_says_what_to_enter() -> None:
    bare = example("dusk-curbside").model_copy(update={"market": Market()})
    with pytest.raises(CannotPrice) as refused:
        services.appraise_case(bare, services.reference_values())

    assert refused.value.where == "market.comparables"
    for word in ("price", "model year", "odometer"):
        assert word in refused.value.hint


def test_one_comparable_is_priced_with_a_warning() -> None:
    case = example("dusk-curbside")
    one = case.model_copy(update={"market": Market(comparables=case.market.comparables[:1])})
    reference = services.reference_values()
    alone, many = services.appraise_case(one, reference), services.appraise_case(case, reference)

    def width(given: Appraisal) -> Decimal:
        return given.resale.mended.p90 / given.resale.mended.p10

    assert width(alone) > width(many)
    told = [problem for problem in alone.problems if problem.where == "market.comparables"]
    assert [problem.weight for problem in told] == ["warning"]


def test_jobs_are_found_by_id_label_and_system_whatever_the_case() -> None:
    reference = services.reference_values()
    everything = services.find_jobs([], reference)
    brakes = services.find_jobs(["BRAKES"], reference)
    both = services.find_jobs(["brakes", "pads"], reference)

    assert len(everything) == len(reference.jobs)
    assert {entry.job.id for entry in everything if entry.job.system.value == "brakes"} <= {
        entry.job.id for entry in brakes
    }
    assert 0 < len(both) < len(brakes) < len(everything)
    assert services.find_jobs(["no such job"], reference) == ()


def test_own_values_stand_over_the_shipped_ones_and_say_so(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text("[[value]]\nid = 'suspect.chance'\nvalue = 0.125\n", encoding="utf-8")
    shipped, mine = services.reference_values(), services.reference_values(own)

    assert mine.value("suspect.chance").value == Decimal("0.125")
    assert mine.value("suspect.chance").kind == "own"
    assert shipped.value("suspect.chance").value != Decimal("0.125")
    assert set(mine.values) == set(shipped.values)


def test_own_values_change_the_answer_at_once_when_the_file_changes(tmp_path: Path) -> None:
    """Nothing read before is kept for a file that says something else now."""
    own = tmp_path / "own.toml"
    seen = []
    for chance in ("0.125", "0.25"):
        own.write_text(f"[[value]]\nid = 'suspect.chance'\nvalue = {chance}\n", encoding="utf-8")
        seen.append(services.reference_values(own).value("suspect.chance").value)

    assert seen == [Decimal("0.125"), Decimal("0.25")]


def test_every_fault_of_an_own_file_is_found_at_once(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        "[[value]]\nid = 'no.such'\nvalue = 1\n[[tool]]\nid = 'mine'\ncolor = 1\n",
        encoding="utf-8",
    )
    with pytest.raises(BadReference) as refused:
        services.reference_values(own)

    places = [problem.where for problem in refused.value.problems]
    assert any("no.such" in one for one in places)
    assert any("mine" in one and "color" in one for one in places)
    assert all(one.startswith("own.toml") for one in places)


def test_own_values_that_are_not_there_leave_the_shipped_ones(tmp_path: Path) -> None:
    assert services.reference_values(tmp_path / "gone.toml") == services.reference_values()


def test_the_summary_holds_plain_numbers_equal_to_the_appraisal() -> None:
    appraisal = services.appraise_case(example("hybrid-battery-light"), services.reference_values())
    found = services.bid_summary(appraisal, Told())

    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert found["currency"] == "EUR"
    assert found["walk_away_price"] == appraisal.walk_away_price
    assert found["asking_price"] == pytest.approx(float(appraisal.asking_price or 0), abs=0)
    assert appraisal.outcome is not None
    assert found["margin"]["p10"] == pytest.approx(float(appraisal.outcome.margin.p10), abs=0)
    assert [one["id"] for one in found["drivers"]] == [one.id for one in appraisal.drivers]


def test_the_day_is_the_user_s_own() -> None:
    before = date.today()  # noqa: DTZ011 - the user's own calendar day is meant
    found = services.today()

    assert before <= found <= date.today()  # noqa: DTZ011 - the same


def test_the_package_gives_its_public_names_and_no_other() -> None:
    assert appraise.read_case is services.read_case
    assert appraise.Case is Case
    assert {getattr(appraise, name) for name in appraise.__all__}
    with pytest.raises(AttributeError, match="no attribute 'guess'"):
        _ = appraise.guess
