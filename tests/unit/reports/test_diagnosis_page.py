"""Trouble codes and checks as text: every figure is that of the diagnosis."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from appraise import services
from appraise.models.diagnosis import Diagnosis, FindingDiagnosis
from appraise.reports.diagnosis_page import MOST_CHECKS, URGENCY, checks_page, code_page

REFERENCE = services.reference_values()
EXAMPLES = {case.id: case for case in services.example_cases()}
OWNED = services.diagnose_case(EXAMPLES["farm-truck-owned"], REFERENCE)
LIGHT = services.diagnose_case(EXAMPLES["auction-engine-light"], REFERENCE)
HOPELESS = services.diagnose_case(EXAMPLES["premium-overheats"], REFERENCE)
WHINE = next(one for one in OWNED.findings if one.id == "axle-whine")


def only(found: FindingDiagnosis, of: Diagnosis = OWNED) -> str:
    return checks_page(of.model_copy(update={"findings": (found,)}), "USD", REFERENCE)


def test_a_known_code_shows_its_meaning_urgency_and_causes_most_likely_first() -> None:
    group = services.code_group("P0301", REFERENCE)
    assert group is not None
    text = code_page(["P0301"], REFERENCE)
    shares = [int(one) for one in re.findall(r"^ +(\d+)% ", text, re.MULTILINE)]

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

    for word in words:
        assert word in text
    assert "different makes" not in text


@pytest.mark.parametrize("code", ["P1234", "P1000", "B1234", "C1234", "U1234"])
def test_a_makers_own_code_asks_for_the_make(code: str) -> None:
    text = code_page([code], REFERENCE)

    assert "no entry" in text
    assert "different things on different makes" in text


def test_codes_stand_in_the_order_asked_for() -> None:
    text = code_page(["P0420", "P1234", "P0301"], REFERENCE)

    assert text.index("P0420") < text.index("P1234") < text.index("P0301")


def test_no_code_is_an_empty_page() -> None:
    assert code_page([], REFERENCE) == ""


def test_the_page_names_the_decision_and_its_price() -> None:
    assert checks_page(OWNED, "USD", REFERENCE).startswith(
        "Weighed for: which repair first at 3,400 USD\n"
    )
    limit = f"{LIGHT.walk_away_price:,} GBP"
    words = f"Weighed for: how high to bid; walk-away price now: {limit}\n"
    assert checks_page(LIGHT, "GBP", REFERENCE).startswith(words)
    assert checks_page(HOPELESS, "USD", REFERENCE).startswith(
        "Weighed for: how high to bid; walk-away price now: no bid works\n"
    )


def test_every_cause_with_any_chance_is_shown_and_no_other() -> None:
    text = only(WHINE)

    for cause in WHINE.causes:
        assert f"{cause.after:>5.0%}  {cause.label}" in text
    gone = WHINE.causes[0].model_copy(update={"before": Decimal(0), "after": Decimal(0)})
    without = WHINE.model_copy(update={"causes": (gone, *WHINE.causes[1:])})
    assert f"  {gone.label}\n" not in only(without)


def test_odds_that_results_moved_show_what_they_were() -> None:
    moved = WHINE.causes[0].model_copy(update={"before": Decimal("0.25"), "after": Decimal("0.75")})
    text = only(WHINE.model_copy(update={"causes": (moved, *WHINE.causes[1:])}))

    assert f"75% (was 25%)  {moved.label}" in text
    assert text.count("(was") == 1


def test_the_checks_worth_most_are_listed_with_their_figures_and_the_rest_cut() -> None:
    text = only(WHINE)
    rows = [line for line in text.splitlines() if line.startswith("  ") and ">" not in line]

    assert len(WHINE.checks) > MOST_CHECKS
    for check in WHINE.checks[:MOST_CHECKS]:
        row = next(line for line in rows if line.endswith(f"  {check.label}"))
        assert row.split()[:3] == [
            f"{check.worth:,.0f}",
            f"{check.cost:,.0f}",
            f"{check.minutes:.0f}",
        ]
    assert WHINE.checks[MOST_CHECKS].label not in text


def test_advice_certainty_and_trial_order_are_those_of_the_diagnosis() -> None:
    text = only(WHINE)
    order = ", ".join(one.label for one in WHINE.trials)

    assert f"> {WHINE.advice}" in text
    assert f"Knowing for certain would be worth {WHINE.most:,.0f} USD." in text
    assert f"order cost {WHINE.trials_cost:,.0f} on average: {order}" in text


def test_a_finding_that_nothing_tells_apart_says_so_without_a_table() -> None:
    bare = next(one for one in OWNED.findings if not one.checks)
    text = only(bare)

    assert "No check in the catalog tells these causes apart" in text
    assert "worth   costs" not in text
    assert "Trial repairs" not in text


def test_stop_checking_is_said_where_nothing_is_worth_its_price() -> None:
    assert "> Stop checking: no result would move the walk-away price" in checks_page(
        HOPELESS, "USD", REFERENCE
    )


def test_a_check_done_is_shown_with_its_result_and_no_longer_offered() -> None:
    first = WHINE.checks[0].model_copy(update={"done": "on the overrun"})
    text = only(WHINE.model_copy(update={"checks": (*WHINE.checks[1:], first)}))

    assert f"  done: {first.label}: on the overrun" in text
    assert text.count(first.label) - WHINE.advice.count(first.label) == 1


def test_a_contradiction_stands_before_the_odds() -> None:
    text = only(WHINE.model_copy(update={"problem": "the results contradict each other"}))

    assert text.index("! the results contradict each other") < text.index(WHINE.causes[0].label)


def test_a_car_without_trouble_says_that_nothing_is_noted() -> None:
    text = checks_page(LIGHT.model_copy(update={"findings": ()}), "USD", REFERENCE)

    assert "Nothing suspect or faulty is noted." in text


def test_a_persons_own_words_move_no_cursor() -> None:
    odd = WHINE.causes[0].model_copy(update={"label": "a\x1b[2J\nb"})
    text = only(WHINE.model_copy(update={"label": "c\rd", "causes": (odd, *WHINE.causes[1:])}))

    assert "\x1b" not in text
    assert "\r" not in text
    assert "a\\x1b[2J\\nb" in text
    assert "c\\rd" in text


def test_each_check_offered_names_its_cautions_and_the_foot_says_them_once() -> None:
    lines = checks_page(OWNED, "USD", REFERENCE).splitlines()
    text = " ".join(" ".join(lines).split())
    offered = [one for found in OWNED.findings for one in found.checks[:MOST_CHECKS]]
    warned = [one for one in offered if one.cautions]

    assert warned
    for check in warned:
        at = next(at for at, line in enumerate(lines) if line.endswith(f"  {check.label}"))
        works = [REFERENCE.cautions[name].work for name in check.cautions]
        assert lines[at + 1].strip().startswith(f"! {works[0]}")
    for name in {name for one in warned for name in one.cautions}:
        assert text.count(REFERENCE.cautions[name].text) == 1
