"""What to do from today on, as text: every figure is that of the choices."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from functools import lru_cache

import pytest

from appraise import services
from appraise.errors import Problem
from appraise.models.choices import CheckBefore, Choices
from appraise.reports.choose_page import choose_page, numbers
from appraise.reports.columns import WIDTH, amount, cells
from appraise.services.ownership.deciding import choose_case

REFERENCE = services.reference_values()
CASES = {
    one.id: one
    for one in services.example_cases()
    if one.id in ("farm-truck-owned", "wagon-half-repaired")
}
HALF = CASES["wagon-half-repaired"]
DAY = date(2026, 11, 22)


@lru_cache(maxsize=4)
def found_of(name: str) -> Choices:
    return choose_case(CASES[name], REFERENCE, DAY)


def page_of(found: Choices) -> str:
    return choose_page(HALF, found)


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("places", "text"),
    [
        ([], "nothing"),
        ([3], "3"),
        ([1, 2], "1, 2"),
        ([3, 1, 2], "1-3"),
        ([1, 2, 4, 6, 7, 8], "1, 2, 4, 6-8"),
    ],
)
def test_numbers_are_said_shortly(places: list[int], text: str) -> None:
    assert numbers(places) == text


@pytest.mark.parametrize("name", CASES)
def test_every_line_fits_a_terminal_of_100_columns(name: str) -> None:
    lines = choose_page(CASES[name], found_of(name)).splitlines()

    assert all(cells(line) <= WIDTH for line in lines)
    assert all(line == line.rstrip() or line.endswith("USD") for line in lines)


@pytest.mark.parametrize("name", CASES)
def test_the_parts_of_the_page_stand_in_order(name: str) -> None:
    text = choose_page(CASES[name], found_of(name))
    heads = (
        "ADVICE",
        "SPENT ALREADY, AND LEFT OUT",
        "FROM TODAY ON",
        "MORE MONEY IN",
        "MORE YOUR HOURS IN",
        "CHECKS",
        "THE JOBS",
    )
    at = [text.index(f"\n{head}") for head in heads]

    assert at == sorted(at)


@pytest.mark.parametrize("name", CASES)
def test_the_options_are_those_of_the_choices_in_their_order(name: str) -> None:
    found = found_of(name)
    text = choose_page(CASES[name], found)
    rows = []
    for one in found.options:
        days = "-" if one.days is None else amount(one.days.mean)
        figures = (
            amount(one.net.p10),
            amount(one.net.mean),
            amount(one.net.p90),
            f"{100 * one.worse_than_selling_now:.0f} %",
            amount(one.money.mean),
            amount(one.hours.mean, 1),
            days,
        )
        pattern = rf"^  {re.escape(one.label)} +" + " +".join(map(re.escape, figures)) + "$"
        row = re.search(pattern, text, re.MULTILINE)
        assert row, (one.label, figures)
        rows.append(row.start())
        assert plain(one.words) in plain(text)

    assert rows == sorted(rows)


def test_what_each_option_does_is_named_by_the_numbers_of_the_jobs() -> None:
    found = found_of("wagon-half-repaired")
    lines = page_of(found).splitlines()
    places = {one.id: at for at, one in enumerate(found.items, 1)}
    for one in found.options:
        at = next(i for i, line in enumerate(lines) if line.startswith(f"  {one.label} "))
        does = lines[at + 1].strip()
        if one.jobs:
            assert does == f"does {numbers(places[name] for name in one.jobs)}"
        else:
            assert not does.startswith("does")
    for one in found.items:
        row = next(
            line
            for line in lines
            if re.match(rf" +{places[one.id]} {re.escape(one.label[:20])}", line)
        )
        for figure in (amount(one.money), amount(one.hours, 1), amount(one.adds), amount(one.net)):
            assert figure in row.split()


def test_what_is_spent_is_shown_apart_and_said_to_be_left_out() -> None:
    spent = found_of("wagon-half-repaired").spent
    text = plain(page_of(found_of("wagon-half-repaired")))

    assert (
        f"LEFT OUT OF ALL THAT FOLLOWS bought {amount(spent.landed)}; repair so far "
        f"{amount(spent.repair)}; deposits on old units {amount(spent.deposits_out)}; your hours "
        f"{amount(spent.hours, 1)}"
    ) in text


def test_the_advice_and_the_break_even_price_are_told() -> None:
    found = found_of("wagon-half-repaired")
    text = plain(page_of(found))

    assert f"ADVICE {found.advice}" in text
    assert f"all money spent comes back at {amount(found.break_even_price)}." in text


@pytest.mark.parametrize("name", CASES)
def test_every_point_of_the_frontiers_has_its_row(name: str) -> None:
    found = found_of(name)
    text = choose_page(CASES[name], found)
    for points in (found.by_money, found.by_hours):
        assert points
        for one in points:
            figures = (
                amount(one.money),
                amount(one.hours, 1),
                amount(one.net.p10),
                amount(one.net.mean),
                amount(one.net.p90),
            )
            assert re.search("^ +" + " +".join(map(re.escape, figures)) + "  ", text, re.MULTILINE)


def test_a_frontier_that_was_cut_says_so() -> None:
    found = found_of("wagon-half-repaired")
    words = "More points lie between these."

    assert words in page_of(found.model_copy(update={"capped": True}))
    assert words not in page_of(found.model_copy(update={"capped": False}))


def test_checks_that_pay_are_listed_with_worth_and_cost_and_none_is_said() -> None:
    check = CheckBefore(
        check="c",
        label="Drain the oil and look",
        worth=Decimal(140),
        cost=Decimal(12),
    )
    found = found_of("wagon-half-repaired")

    row = r"^ +140 +12  Drain the oil and look$"
    assert re.search(row, page_of(found.model_copy(update={"checks": (check,)})), re.MULTILINE)
    assert "None: no check costs less" in page_of(found.model_copy(update={"checks": ()}))


def test_problems_stand_before_the_advice() -> None:
    told = (Problem("work", "no set of jobs can be chosen", "warning", "Raise the limit."),)
    text = page_of(found_of("wagon-half-repaired").model_copy(update={"problems": told}))

    assert "! no set of jobs can be chosen. Raise the limit." in text
    assert text.index("! no set") < text.index("ADVICE")


def test_what_nobody_is_sure_of_is_marked_and_a_bypass_named() -> None:
    found = found_of("farm-truck-owned")
    lines = choose_page(CASES["farm-truck-owned"], found).splitlines()
    unsure = [one for one in found.items if not one.sure]

    assert unsure
    for one in unsure:
        row = next(line for line in lines if one.label[:30] in line)
        assert row.endswith(" ?")
    half = page_of(found_of("wagon-half-repaired")).splitlines()
    assert [line.split()[-1] for line in half if "Temporary bypass" in line] == ["bypass"]


def test_a_car_with_nothing_left_to_do_has_a_page() -> None:
    found = found_of("wagon-half-repaired")
    now = tuple(one for one in found.options if one.kind == "as is")
    bare = found.model_copy(update={"items": (), "options": now, "by_money": (), "by_hours": ()})
    text = page_of(bare)

    assert "Nothing is left to do." in text
    assert text.count("There is nothing to choose between.") == 2


def test_a_persons_own_words_move_no_cursor() -> None:
    found = found_of("wagon-half-repaired")
    odd = found.items[0].model_copy(update={"label": "a\x1b[2J\nb"})
    text = choose_page(
        HALF.model_copy(update={"title": "c\rd"}),
        found.model_copy(update={"items": (odd, *found.items[1:])}),
    )

    assert "\x1b" not in text
    assert "\r" not in text
    assert "a\\x1b[2J\\nb" in text
    assert "c\\rd" in text
