"""Trouble codes and the diagnosis as text: every figure is that of the diagnosis."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from appraise import services
from appraise.errors import Problem
from appraise.models.case import Case
from appraise.models.diagnosis import Diagnosis, Done
from appraise.reports.diagnosis_page import MOST_FAULTS, URGENCY, code_page, diagnosis_page
from appraise.reports.wording import limit_words, percent, search_words

REFERENCE = services.reference_values()
EXAMPLES = {case.id: case for case in services.example_cases()}
OWNED_CASE, LIGHT_CASE = EXAMPLES["farm-truck-owned"], EXAMPLES["auction-engine-light"]
OWNED = services.diagnose_case(OWNED_CASE, REFERENCE)
LIGHT = services.diagnose_case(LIGHT_CASE, REFERENCE)
SIGNS = (
    "cooling.runs_hot",
    "engine.white_smoke_sweet",
    "cooling.loses_coolant",
    "engine.milky_oil_cap",
)


def five_signs() -> Diagnosis:
    """Return what is wrong with a car that shows four symptoms and a misfire code."""
    case = EXAMPLES["dusk-curbside"].model_copy(update={"draws": 2000})
    for symptom in SIGNS:
        case = services.finding_from_symptom(case, symptom, REFERENCE)
    return services.diagnose_case(services.finding_from_code(case, "P0302", REFERENCE), REFERENCE)


FIVE = five_signs()


def page(found: Diagnosis, case: Case = LIGHT_CASE) -> str:
    return diagnosis_page(found, case, REFERENCE)


def flat(text: str) -> str:
    """Return a text without its line breaks."""
    return " ".join(text.split())


def test_a_known_code_shows_its_meaning_urgency_and_causes_most_likely_first() -> None:
    group = REFERENCE.group_of_code.get("P0301")
    assert group is not None
    text = code_page(["P0301"], REFERENCE)
    shares = [int(one) for one in re.findall(r"^ +(\d+) % ", text, re.MULTILINE)]

    assert text.startswith("P0301: misfire, cylinder 1")
    assert f"repair {URGENCY[group.urgency]}" in text
    assert f"its monitor ({group.monitor})" in text
    assert "not a part: test before buying the part" in text
    assert shares == sorted(shares, reverse=True)
    assert len(shares) == len(group.causes)
    for one in group.causes:
        assert REFERENCE.causes[one.cause].label in text


def test_a_code_page_says_what_stands_behind_its_shares() -> None:
    assert "common practice; our estimate, no published source" in code_page(["P0301"], REFERENCE)


@pytest.mark.parametrize("group", REFERENCE.code_groups.values(), ids=lambda one: one.id)
def test_every_code_of_the_catalog_has_a_page_that_begins_with_it(group: object) -> None:
    codes = [one.code for one in group.codes]  # type: ignore[attr-defined]
    blocks = code_page(codes, REFERENCE).split("\n\n")

    assert [block.split(":")[0] for block in blocks] == codes
    assert not any("no entry" in block for block in blocks)


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("P0F0F", ("no entry", "powertrain")),
        ("B0FFF", ("no entry", "body")),
        ("C0FFF", ("no entry", "chassis")),
        ("U0FFF", ("no entry", "network")),
    ],
)
def test_an_unknown_code_is_decoded_to_its_family(code: str, words: tuple[str, ...]) -> None:
    text = code_page([code], REFERENCE)

    for word in (*words, "not in the list of generic codes"):
        assert word in text.casefold()
    assert "different makes" not in text


@pytest.mark.parametrize("code", ["P1234", "P1000", "B1234", "C1234", "U1234"])
def test_a_makers_own_code_asks_for_the_make(code: str) -> None:
    text = code_page([code], REFERENCE)

    assert "no entry" in text
    assert "different things on different makes" in text
    assert "Look it up with the make in hand" in text


def test_codes_stand_in_the_order_asked_for() -> None:
    text = code_page(["P0420", "P1234", "P0301"], REFERENCE)

    assert text.index("P0420") < text.index("P1234") < text.index("P0301")


def test_no_code_is_an_empty_page() -> None:
    assert code_page([], REFERENCE) == ""


def test_faults_stand_most_likely_first_with_chance_and_cost() -> None:
    many = FIVE.model_copy(update={"faults": FIVE.faults * MOST_FAULTS})
    text = flat(page(many))
    rows = [
        f"{percent(one.chance)} {one.cost.p50:,.0f} {one.cost.p10:,.0f} to {one.cost.p90:,.0f} "
        f"{one.label}"
        for one in FIVE.faults[:MOST_FAULTS]
    ]
    assert len(rows) > 2
    at = [text.index(one) for one in rows]

    assert at == sorted(at)
    assert f"or less each: {len(many.faults) - MOST_FAULTS} more" in text


def test_what_speaks_for_and_against_a_fault_stands_below_it_with_what_settles_it() -> None:
    first = FIVE.faults[0].model_copy(
        update={
            "speaks_for": ("smoke", "slime"),
            "speaks_against": ("dry dipstick",),
            "settled_by": "Gas test",
        }
    )
    lines = page(FIVE.model_copy(update={"faults": (first,)})).splitlines()
    at = next(at for at, line in enumerate(lines) if line.endswith(first.label))

    assert [one.strip() for one in lines[at + 1 : at + 4]] == [
        "for: smoke; slime",
        "against: dry dipstick",
        "settled by: Gas test",
    ]


def test_one_fault_behind_all_signs_what_it_explains_and_what_finding_it_takes_are_told() -> None:
    text = flat(page(FIVE))

    assert f"One fault alone behind all signs: {percent(FIVE.single_fault)}" in text
    assert FIVE.explained
    assert all(one in text for one in FIVE.explained)
    assert f"{percent(FIVE.something_else)} Something else" in text
    words = search_words(FIVE.search.minutes, FIVE.search.money, "USD")
    assert words in text
    assert FIVE.care.words in text


def test_the_page_names_the_decision_and_its_price() -> None:
    assert "weighed for which repair first at 3,400 USD" in page(OWNED, OWNED_CASE)
    assert f"now walk away above {LIGHT.walk_away_price:,}" in page(LIGHT)
    none = LIGHT.model_copy(update={"walk_away_price": None})
    assert "weighed for how high to bid; now no bid works" in page(none)


def test_each_look_that_pays_has_its_figures_and_what_each_outcome_leads_to() -> None:
    lit = LIGHT.model_copy(
        update={"next": tuple(one.model_copy(update={"net": Decimal(1)}) for one in LIGHT.next)}
    )
    lines = page(lit).splitlines()
    paying = [one for one in lit.next if one.net > 0]

    assert paying
    for look in paying:
        at = next(at for at, line in enumerate(lines) if line.endswith(f"  {look.label}"))
        figures = [f"{look.worth:,.0f}", f"{look.cost:,.0f}", f"{look.minutes:.0f}"]
        assert lines[at].split()[:3] == figures
        for place, one in enumerate(look.outcomes, 1):
            words = f"- {one.label} ({percent(one.chance)}): {limit_words(one.walk_away_price)}"
            assert lines[at + place].strip() == words


def test_a_look_that_costs_more_than_it_is_worth_is_not_offered() -> None:
    dear = LIGHT.next[0].model_copy(update={"label": "The dear look", "net": Decimal(-1)})
    text = page(LIGHT.model_copy(update={"next": (dear,), "advice": "Stop looking: nothing pays."}))

    assert "> Stop looking: nothing pays." in text
    assert "The dear look" not in text
    assert "  look\n" not in text


def test_after_a_purchase_no_outcome_names_a_walk_away_price() -> None:
    paying = LIGHT.next[0].model_copy(update={"net": Decimal(1)})
    text = page(OWNED.model_copy(update={"next": (paying,)}), OWNED_CASE)

    assert f"- {paying.outcomes[0].label} ({percent(paying.outcomes[0].chance)})\n" in text
    assert "walk away above" not in text


def test_a_result_is_shown() -> None:
    done = (Done(check="plug_look", label="Plugs out", outcome="oily"),)

    assert "RESULTS SO FAR\n  Plugs out: oily" in page(LIGHT.model_copy(update={"done": done}))
    assert "RESULTS SO FAR" not in page(LIGHT)


def test_a_contradiction_stands_before_the_faults() -> None:
    found = Problem("findings", "these signs contradict each other", "warning")
    text = page(FIVE.model_copy(update={"problems": (found,)}))

    assert text.startswith("! these signs contradict each other")


def test_a_car_without_signs_says_that_nothing_names_one() -> None:
    bare = LIGHT.model_copy(update={"faults": (), "signs": ()})

    assert "Nothing that was noted names a symptom, a code or a possible cause." in page(bare)


def test_a_persons_own_words_move_no_cursor() -> None:
    first = LIGHT.faults[0].model_copy(update={"label": "a\x1b[2J\nb", "speaks_for": ("c\rd",)})
    text = page(LIGHT.model_copy(update={"faults": (first,)}))

    assert "\x1b" not in text
    assert "\r" not in text
    assert "a\\x1b[2J\\nb" in text
    assert "c\\rd" in text


def test_each_look_offered_names_its_cautions_and_the_foot_says_them_once() -> None:
    names = ("road_test", "cooling")
    more = {"net": Decimal(1), "cautions": names}
    warned = [one.model_copy(update=more) for one in LIGHT.next[:2]]
    text = flat(page(LIGHT.model_copy(update={"next": tuple(warned)})))

    assert len(warned) == 2
    for look in warned:
        works = "; ".join(REFERENCE.cautions[name].work for name in look.cautions)
        assert f"! {works}" in text
    for name in {name for one in warned for name in one.cautions}:
        assert text.count(REFERENCE.cautions[name].text) == 1
