"""The cases that ship: invented, each for a reason, and each worked out to the end."""

from __future__ import annotations

import json
import re
from datetime import date
from functools import lru_cache
from importlib.resources import files

import pytest

from appraise import services
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case, Standing
from appraise.models.findings import State
from appraise.services.ownership.deciding import choose_case, forecast_case
from appraise.services.ownership.owning import itemize_case

CASES = {case.id: case for case in services.example_cases()}
REFERENCE = services.reference_values()
INVENTED = {"Brasquell", "Eluquine", "Orstwelt", "Pellisorn", "Stockvarrow"}
PLACES = {"Ambervole", "Cravendel", "Dunmarrick", "Hexwarren", "Quennock", "Tullimere"}
PLAIN = {"", "Classified advert", "District testing station", "Farm sale", "Private seller"}

VALUES = {
    **{str(digit): digit for digit in range(10)},
    **dict(zip("ABCDEFGH", (1, 2, 3, 4, 5, 6, 7, 8), strict=True)),
    **dict(zip("JKLMNPR", (1, 2, 3, 4, 5, 7, 9), strict=True)),
    **dict(zip("STUVWXYZ", (2, 3, 4, 5, 6, 7, 8, 9), strict=True)),
}
"""49 CFR 565.15(c)(1), Table III: what each character of a VIN counts; I, O and Q have no place."""
WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
"""49 CFR 565.15(c)(2), Table IV: the weight of each place; the ninth is the check digit's own."""
YEARS = "ABCDEFGHJKLMNPRSTVWXY123456789"
"""49 CFR 565.15(d)(1), Table VII: the letters and digits of 30 model years in turn."""
UNASSIGNED = set("PRSTUVWXYZ1234567890")
"""Second characters after A that no country has: AA-AH South Africa, AJ-AN Ivory Coast, then AP-A0
nobody, in the public list of country codes (ISO 3780)."""


def check_digit(vin: str) -> str:
    """Return the check digit that a VIN should have in its ninth place (565.15(c)(3) and (4))."""
    left = sum(VALUES[one] * weight for one, weight in zip(vin, WEIGHTS, strict=True)) % 11
    return "X" if left == 10 else str(left)


def model_year(vin: str) -> int:
    """Return the model year of a light vehicle: a letter in place 7 means 2010 to 2039."""
    first = 2010 if vin[6].isalpha() else 1980
    return first + YEARS.index(vin[9])


@lru_cache(maxsize=16)
def worked(name: str) -> Appraisal:
    return services.appraise_case(CASES[name], REFERENCE)


def test_the_check_digit_is_that_of_the_regulation_s_own_example() -> None:
    """49 CFR 565.15(c)(5), Table VI: products sum to 411, remainder 4."""
    vin = "1G4AH59H45G118341"

    assert sum(VALUES[one] * weight for one, weight in zip(vin, WEIGHTS, strict=True)) == 411
    assert check_digit(vin) == vin[8] == "4"


def test_there_are_at_least_four_and_each_file_is_named_after_its_case() -> None:
    names = {one.name for one in files("demo_cases").iterdir() if one.name.endswith(".json")}

    assert len(CASES) >= 4
    assert names == {f"{name}.json" for name in CASES}


def test_every_make_is_invented_and_no_two_cars_are_alike() -> None:
    assert {case.vehicle.make for case in CASES.values()} <= INVENTED
    assert len({case.vehicle.name for case in CASES.values()}) == len(CASES)
    assert len({case.vehicle.vin for case in CASES.values()}) == len(CASES)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_every_shop_and_place_in_it_is_invented_or_plain_words(case: Case) -> None:
    named = [paper.issuer for paper in case.papers] + [case.deal.venue]
    named += [entry.supplier for entry in case.work.entries]
    named += [part.supplier for job in case.work.jobs for part in job.parts]

    assert [one for one in named if one not in PLAIN and one.split()[0] not in PLACES] == []


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_its_vin_is_well_formed_but_no_maker_has_it(case: Case) -> None:
    vin = case.vehicle.vin

    assert len(vin) == 17
    assert set(vin) <= set(VALUES)
    assert vin[0] == "A"
    assert vin[1] in UNASSIGNED
    assert vin[8] == check_digit(vin)
    # 565.15(d): the last five characters of a light vehicle's VIN are digits
    assert vin[-5:].isdigit()


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_the_model_year_in_its_vin_is_its_model_year(case: Case) -> None:
    assert model_year(case.vehicle.vin) == case.vehicle.model_year


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_its_story_says_what_is_interesting_in_a_few_sentences(case: Case) -> None:
    sentences = re.findall(r"[A-Z][^.:]+[.:]", case.story)

    assert len(sentences) >= 2
    assert 100 <= len(case.story) <= 600
    assert len(case.title) <= 60


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_it_is_written_by_hand_without_what_the_program_would_fill_in(case: Case) -> None:
    """Exported and read again, it is the same case."""
    raw = json.loads(files("demo_cases").joinpath(f"{case.id}.json").read_text(encoding="utf-8"))

    assert services.read_case(json.dumps(raw)) == case
    assert services.read_case(services.case_text(case)) == case


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_it_names_only_what_the_catalog_has(case: Case) -> None:
    """Checked and worked out, nothing stops it, and every job fits the car."""
    told = services.check_text(case, REFERENCE)

    assert all(problem.weight != "stop" for problem in told)
    assert all(problem.weight != "stop" for problem in worked(case.id).problems)


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_it_is_worked_out_to_the_end(case: Case) -> None:
    found = worked(case.id)
    outcome = found.outcome

    assert outcome is not None
    assert found.currency == case.currency
    assert outcome.margin.p10 < outcome.margin.p50 < outcome.margin.p90
    assert 0 < found.resale.as_it_stands.p50 <= found.resale.mended.p50
    assert len(found.repair.by_finding) == sum(finding.trouble for finding in case.findings)
    assert found.drivers


@pytest.mark.parametrize("case", CASES.values(), ids=CASES)
def test_it_has_comparables_enough_for_a_usable_price(case: Case) -> None:
    assert len(case.market.comparables) >= 5


def test_one_has_no_bid_that_works_and_the_others_have_one() -> None:
    without = [name for name in CASES if worked(name).walk_away_price is None]

    assert without == ["premium-overheats"]
    assert "no bid" in CASES["premium-overheats"].story.lower()


def test_two_are_owned_and_are_judged_at_what_was_paid() -> None:
    owned = [case for case in CASES.values() if case.standing is Standing.OWNED]

    assert [case.id for case in owned] == ["farm-truck-owned", "wagon-half-repaired"]
    for case in owned:
        found = worked(case.id)
        assert case.purchase is not None
        assert found.outcome is not None
        assert found.judged == "price paid"
        assert found.outcome.bid == case.purchase.bid
        assert found.outcome.landed_cost == case.purchase.landed


def test_one_half_mended_has_all_there_is_to_choose_from() -> None:
    """A fault that came to nothing, a new one, a deposit out, an open bypass, parts to sell."""
    case = CASES["wagon-half-repaired"]
    found = itemize_case(case, REFERENCE)
    kinds = {one.kind for one in choose_case(case, REFERENCE, date(2026, 11, 24)).options}

    assert found.came_to_nothing
    assert found.came_true
    assert found.new
    assert forecast_case(case, REFERENCE, date(2026, 11, 24)).deposits_out > 0
    assert case.work.open_bypasses
    assert kinds >= {"as is", "best", "all repairs", "part out", "keep"}


def test_what_was_expected_of_the_owned_ones_are_the_programs_own_figures() -> None:
    for name in ("wagon-half-repaired", "farm-truck-owned"):
        purchase = CASES[name].purchase
        assert purchase is not None
        assert purchase.expected is not None
        assert purchase.expected.on == purchase.bought_on
        assert purchase.expected.money.p10 < purchase.expected.money.p90


def test_one_is_in_another_currency_than_the_catalog_with_its_own_price_level() -> None:
    foreign = [case for case in CASES.values() if case.currency != REFERENCE.currency]

    assert [case.id for case in foreign] == ["hybrid-battery-light"]
    assert foreign[0].deal.price_level != 1
    assert foreign[0].vehicle.odometer.unit == "km"


def test_one_shows_the_price_of_not_looking() -> None:
    """Nothing was found, hardly anything looked at: all the repair is what may be hidden."""
    case, found = CASES["dusk-curbside"], worked("dusk-curbside")

    assert not any(finding.trouble for finding in case.findings)
    assert sum(one.state is State.NOT_LOOKED_AT for one in case.findings) >= 3
    assert found.repair.found.p90 == 0
    assert found.repair.unseen.mean > 0


def test_one_names_signs_one_states_causes_and_one_has_fees_in_steps() -> None:
    case = CASES["auction-engine-light"]

    assert sum(bool(finding.symptom or finding.codes) for finding in case.findings) > 1
    assert any(len(finding.causes) > 1 for finding in CASES["farm-truck-owned"].findings)
    assert any(len(schedule.steps) > 1 for schedule in case.deal.fees)
