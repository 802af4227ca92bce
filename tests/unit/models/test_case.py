"""A case, its findings, jobs and money: what hangs together and what does not."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from pydantic import ValidationError

from appraise.models.case import Case
from appraise.models.deal import Deal, FeeSchedule
from appraise.models.findings import Finding
from appraise.models.jobs import Job
from appraise.models.market import Comparable
from appraise.models.preferences import Preferences
from appraise.models.problems import path_of, problems_of

CAR = {
    "make": "Invented",
    "model": "One",
    "model_year": 2015,
    "odometer": {"value": 1, "unit": "km"},
}
RANGE = {"low": 1, "likely": 2, "high": 3}
JOB = {"id": "own.one", "label": "Own", "system": "brakes", "hours": RANGE}


def case(**more: Any) -> Case:
    return Case.model_validate(
        {"id": "a", "title": "A", "appraised_on": "2026-01-02", "vehicle": CAR} | more
    )


def finding(state: str, **more: Any) -> Finding:
    return Finding.model_validate({"id": "f", "area": "engine", "state": state} | more)


def cause(name: str, chance: Any) -> dict[str, Any]:
    return {"id": name, "label": name, "chance": chance}


def test_the_least_case_has_defaults_for_all_the_rest() -> None:
    least = case()

    assert (least.currency, least.standing.value, least.draws, least.seed) == (
        "USD",
        "prospect",
        20_000,
        1,
    )
    assert least.findings == least.own_jobs == least.market.comparables == ()
    assert least.deal.confidence == Decimal("0.8")


@pytest.mark.parametrize("standing", ["owned", "on_sale", "sold"])
def test_who_owns_a_car_has_bought_it(standing: str) -> None:
    bought = {"bid": "4500", "bought_on": "2026-01-01"}

    assert case(standing=standing, purchase=bought).purchase is not None
    with pytest.raises(ValidationError, match="there is no purchase"):
        case(standing=standing)


@pytest.mark.parametrize("standing", ["prospect", "let_go"])
def test_who_does_not_own_it_need_not_have_bought_it(standing: str) -> None:
    assert case(standing=standing).purchase is None


@pytest.mark.parametrize("code", ["usd", "US", "USDX", "US1", "", "\u20ac"])
def test_a_currency_is_three_capital_letters(code: str) -> None:
    """ISO 4217: the alphabetic code has three letters (from memory)."""
    with pytest.raises(ValidationError) as refused:
        case(currency=code)
    (problem,) = problems_of(refused.value)

    assert problem.where == "currency"


@pytest.mark.parametrize("name", ["Upper", "a b", "", "-a", "a/b", "../a", "\u00e4", "x" * 81])
def test_an_id_is_a_plain_word_that_can_stand_in_a_file_name(name: str) -> None:
    with pytest.raises(ValidationError):
        case(id=name)


@pytest.mark.parametrize("seed", [0, 2**63 - 1])
def test_a_seed_may_be_0_and_fills_63_bits(seed: int) -> None:
    assert case(seed=seed).seed == seed


@pytest.mark.parametrize("state", ["fine", "not_looked_at"])
@pytest.mark.parametrize(
    "more",
    [
        {"jobs": [{"job": "x"}]},
        {"causes": [cause("a", 1)]},
        {"severity": "minor"},
        {"chance": 0},
    ],
)
def test_what_is_not_in_trouble_carries_none(state: str, more: dict[str, Any]) -> None:
    with pytest.raises(ValidationError, match="carries no jobs, causes, chance or severity"):
        finding(state, **more)


def test_what_was_not_looked_at_was_looked_at_in_no_way() -> None:
    with pytest.raises(ValidationError, match="says how it was inspected"):
        finding("not_looked_at", look="glance")

    assert finding("fine", look="glance").look == "glance"


def test_faulty_is_certain_and_suspect_is_not() -> None:
    with pytest.raises(ValidationError, match="faulty is certain"):
        finding("faulty", chance="0.5")

    assert finding("faulty", chance=1).trouble
    assert finding("suspect", chance="0.5").trouble
    assert not finding("fine").trouble


@pytest.mark.parametrize("chance", ["-0.01", "1.01", "NaN", True, "half"])
def test_a_chance_lies_between_0_and_1(chance: Any) -> None:
    with pytest.raises(ValidationError) as refused:
        finding("suspect", chance=chance)

    assert [one["loc"] for one in refused.value.errors()] == [("chance",)]


def test_causes_exclude_each_other_so_their_chances_reach_1_at_most() -> None:
    """Chances of what excludes each other add (an axiom of probability)."""
    with pytest.raises(ValidationError, match=r"sum to 1\.01, above 1"):
        finding("suspect", causes=[cause("a", "0.7"), cause("b", "0.31")])

    # thirds in ten digits, and exact tenths, are no mistake
    assert finding("suspect", causes=[cause(one, "0.3333333333") for one in "abc"]).causes
    assert finding("suspect", causes=[cause(str(at), "0.1") for at in range(10)]).causes


def test_jobs_stand_under_their_cause_or_alone_but_not_both() -> None:
    with pytest.raises(ValidationError, match="jobs and causes at once"):
        finding("suspect", jobs=[{"job": "x"}], causes=[cause("a", 1)])


def test_two_of_a_kind_never_share_an_id() -> None:
    twice = [{"id": "f", "area": "engine", "state": "fine"}] * 2
    comparable = {"id": "c", "price": 1, "model_year": 2015, "odometer": CAR["odometer"]}
    with pytest.raises(ValidationError, match="two findings share the id 'f'"):
        case(findings=twice)
    with pytest.raises(ValidationError, match="two comparables share the id 'c'"):
        case(market={"comparables": [comparable, comparable]})
    with pytest.raises(ValidationError, match=r"two own jobs share the id 'own\.one'"):
        case(own_jobs=[JOB, JOB])
    with pytest.raises(ValidationError, match="two causes share one id"):
        finding("suspect", causes=[cause("a", 0), cause("a", 0)])
    with pytest.raises(ValidationError, match="two venues share one name"):
        Preferences.model_validate({"venues": [{"name": "Yard"}, {"name": "Yard"}]})


def test_a_job_does_not_follow_from_itself() -> None:
    with pytest.raises(ValidationError, match="cannot follow from itself"):
        Job.model_validate(JOB | {"follows": ["own.one"]})


@pytest.mark.parametrize(
    ("starts", "reason"),
    [
        ((), "at least 1"),
        ((100,), "a gap: no step covers bids below 100"),
        ((0, 500, 300), "a backward step: 300 comes after 500"),
        ((0, 500, 500), "a backward step: 500 comes after 500"),
    ],
)
def test_fee_steps_cover_every_bid_once(starts: tuple[int, ...], reason: str) -> None:
    steps = [{"starts_at": one} for one in starts]
    with pytest.raises(ValidationError, match=reason):
        FeeSchedule.model_validate({"name": "premium", "steps": steps})


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("transport", "-0.01"),
        ("transport", "0.001"),
        ("transport", "100000000.01"),
        ("transport", "Infinity"),
        ("confidence", 0),
        ("confidence", 1),
        ("hours_per_day", 0),
        ("hours_per_day", "24.1"),
        ("tax_percent", "100.1"),
        ("selling_percent", 100),
        ("price_level", 0),
        ("target_margin", "-1000001"),
    ],
)
def test_money_that_cannot_be_is_refused_at_its_field(field: str, value: Any) -> None:
    with pytest.raises(ValidationError) as refused:
        Deal.model_validate({field: value})

    assert {one["loc"] for one in refused.value.errors()} == {(field,)}


def test_a_target_may_be_a_loss() -> None:
    """Whoever owns a car already may want to lose no more than so much."""
    assert Deal(target_margin=Decimal(-500)).target_margin == -500


def test_a_comparable_was_paid_for() -> None:
    raw = {"id": "c", "price": 0, "model_year": 2015, "odometer": CAR["odometer"]}
    with pytest.raises(ValidationError, match="greater than 0"):
        Comparable.model_validate(raw)


def test_a_path_is_written_as_a_person_would() -> None:
    assert path_of(("findings", 3, "causes", 0, "chance")) == "findings[3].causes[0].chance"
    assert path_of(()) == ""


def test_every_problem_of_a_case_stops_it_and_is_one_line() -> None:
    with pytest.raises(ValidationError) as refused:
        case(title="", draws="many", vehicle=CAR | {"odometer": 5}, note=["x"], seed=1.5)
    problems = problems_of(refused.value)

    where = {"title", "draws", "vehicle.odometer", "note", "seed"}
    assert {one.where for one in problems} == where
    assert {one.weight for one in problems} == {"stop"}
    assert all(one.message.strip() and "\n" not in one.message for one in problems)


def test_a_long_value_is_cut_short_in_a_message() -> None:
    with pytest.raises(ValidationError) as refused:
        case(appraised_on="9" * 5000)

    assert all(len(one.message) < 200 for one in problems_of(refused.value))
