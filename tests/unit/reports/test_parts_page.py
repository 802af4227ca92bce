"""Parts, cores and days as text: what to order, what is late, what goes back, and when."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from appraise import services
from appraise.engine.work.schedule import Day, DayPlan, Plan, Step
from appraise.models.parts import CoreRow, PartRow
from appraise.reports.columns import WIDTH, cells
from appraise.reports.parts_page import (
    PartsLists,
    by_supplier,
    day_rows,
    parts_page,
    sum_of,
    wait_words,
)
from appraise.services.output.printing import parts_lists

REFERENCE = services.reference_values()
CASES = {
    one.id: one
    for one in services.example_cases()
    if one.id in ("farm-truck-owned", "wagon-half-repaired")
}
HALF = CASES["wagon-half-repaired"]
DAY = date(2026, 11, 22)
NO_DAYS = DayPlan(Plan((), (), (), 0.0, None), {}, {})


def part(label: str = "disc", **changes: object) -> PartRow:
    one = PartRow(
        job="brakes",
        job_label="Front brakes",
        part="disc",
        label=label,
        grade="aftermarket",
        supplier="",
        quantity=2,
        each=Decimal("45.00"),
        expected=False,
        shipping=Decimal(5),
        tax=Decimal(0),
        total=Decimal("95.00"),
        core=Decimal(0),
        warranty_months=None,
        state="to order",
        due=None,
    )
    return replace(one, **changes)  # type: ignore[arg-type]


def core(**changes: object) -> CoreRow:
    one = CoreRow(
        "alt", "Alternator replaced", ("alternator",), Decimal(55), Decimal(15), Decimal(40)
    )
    return replace(one, **changes)  # type: ignore[arg-type]


def lists(*parts: PartRow, cores: tuple[CoreRow, ...] = (), days: DayPlan = NO_DAYS) -> PartsLists:
    return PartsLists(DAY, parts, cores, days)


def page(*parts: PartRow, cores: tuple[CoreRow, ...] = (), days: DayPlan = NO_DAYS) -> str:
    return parts_page(HALF, lists(*parts, cores=cores, days=days))


def section(text: str, head: str) -> str:
    """Return a part of the page, from its head to the next blank line."""
    return text[text.index(f"\n{head}") :].strip().split("\n\n")[0]


@pytest.mark.parametrize("name", CASES)
def test_every_line_fits_a_terminal_of_100_columns(name: str) -> None:
    found = parts_lists(CASES[name], REFERENCE, DAY)
    lines = parts_page(CASES[name], found).splitlines()

    assert all(cells(line) <= WIDTH for line in lines)


def test_every_part_of_an_example_stands_under_its_state() -> None:
    found = parts_lists(CASES["farm-truck-owned"], REFERENCE, DAY)
    text = parts_page(CASES["farm-truck-owned"], found)
    heads = {"to order": "TO ORDER", "late": "LATE", "ordered": "ORDERED", "here": "HERE"}

    assert {one.state for one in found.parts} == set(heads)
    for one in found.parts:
        block = section(text, heads[one.state])
        assert one.label[:30] in block
        assert sum(one.label[:30] in section(text, head) for head in heads.values()) == 1


def test_parts_are_grouped_by_supplier_and_those_without_one_come_last() -> None:
    mine = (part("a"), part("b", supplier="Zed"), part("c", supplier="abel"), part("d"))
    groups = by_supplier(mine)

    assert list(groups) == ["abel", "Zed", ""]
    assert [one.label for one in groups[""]] == ["a", "d"]
    block = section(page(*mine), "TO ORDER")
    order = [block.index(words) for words in ("abel", "Zed", "supplier not chosen")]
    assert order == sorted(order)


def test_a_sum_keeps_expected_prices_deposits_and_missing_ones_apart() -> None:
    """By hand: 95 known, 30 expected, one without a price; deposits 2 x 10."""
    found = sum_of(
        (
            part(core=Decimal(10)),
            part(each=Decimal(30), total=Decimal(30), quantity=1, expected=True),
            part(each=None, total=None),
        )
    )

    assert (found.lines, found.total, found.expected) == (3, 125, 30)
    assert (found.deposits, found.unpriced) == (20, 1)


def test_the_sum_under_a_table_tells_deposits_and_missing_prices() -> None:
    block = section(page(part(core=Decimal(10)), part(each=None, total=None)), "TO ORDER")

    assert re.search(r"together +95\.00  and 20\.00 deposits, 1 without a price$", block)
    assert "no price" in block


def test_a_catalog_price_is_marked_and_the_mark_explained_only_then() -> None:
    guessed, known = page(part(expected=True)), page(part())

    assert re.search(r"disc +2 +~45\.00 +~95\.00 ", guessed)
    assert re.search(r"together +~95\.00", guessed)
    assert "~ what the catalog expects" in guessed
    assert "~" not in known


def test_an_ordered_part_has_its_day_or_says_that_it_is_not_known() -> None:
    text = page(part("a", state="ordered", due=DAY + timedelta(2)), part("b", state="ordered"))

    assert re.search(r"a +2 +95\.00 +2026-11-24  Front brakes", text)
    assert re.search(r"b +2 +95\.00 +not known   Front brakes", text)


def test_cores_show_what_was_paid_what_is_back_and_what_is_left() -> None:
    block = section(page(cores=(core(), core(left=Decimal(5)))), "CORES")

    assert re.search(r"alternator +Alternator replaced +55\.00 +15\.00 +40\.00", block)
    assert re.search(r"together +45\.00$", block)
    assert "none" in section(page(), "CORES")


def planned(*days: Day, problem: str = "") -> DayPlan:
    finish = days[-1].on if days else None
    plan = Plan(days, (), (), 0.0, finish, problem)
    return DayPlan(plan, {"a-job": "Front brakes", "b": "Wiper"}, {"wheels": "Wheels off"})


def test_a_day_names_jobs_teardown_shop_and_waits_by_their_labels() -> None:
    day = Day(
        DAY,
        (Step("a-job", 0.4, "wheels"), Step("a-job", 1.25), Step("b", 0.0)),
        ("b",),
        ("waits for parts: a-job, b",),
    )
    block = " ".join(section(page(days=planned(day)), "DAY BY DAY").split())

    assert "DAY BY DAY, done on 2026-11-22" in block
    # 22 November 2026 is a Sunday
    assert "Sun 2026-11-22 1.6 h" in block
    assert "Wheels off, and back 0.4 h; Front brakes 1.2 h; Wiper a moment" in block
    assert "at the shop: Wiper; waits for parts: Front brakes; Wiper" in block


def test_a_day_plan_that_is_none_says_why_and_an_empty_one_that_nothing_is_left() -> None:
    assert "! longer than 3,000 days" in page(days=planned(problem="longer than 3,000 days"))
    assert "nothing is left to do" in page()


def test_waits_are_told_by_the_names_of_jobs() -> None:
    assert wait_words("day off", {"day": "x"}) == "day off"
    assert wait_words("waits for parts: a, b", {"a": "Alpha"}) == "waits for parts: Alpha; b"


def test_the_rows_for_a_machine_hold_ids_and_labels() -> None:
    day = Day(DAY, (Step("a-job", 0.4, "wheels"),), ("b",), ("waits for parts: b",))

    assert day_rows(planned(day)) == [
        {
            "on": DAY,
            "hours": 0.4,
            "steps": [
                {
                    "job": "a-job",
                    "label": "Front brakes",
                    "access": "wheels",
                    "access_label": "Wheels off",
                    "hours": 0.4,
                }
            ],
            "at_shop": [{"job": "b", "label": "Wiper"}],
            "waits": ["waits for parts: Wiper"],
        }
    ]


def test_a_persons_own_words_move_no_cursor_and_stay_in_their_column() -> None:
    odd = part("a\x1b[2J\nb" * 40, supplier="c\rd" * 60, job_label="車" * 90)
    lines = page(odd, replace(odd, state="late", due=DAY), cores=(core(parts=("e\tf" * 90,)),))

    assert "\x1b" not in lines
    assert "\r" not in lines
    assert all(cells(line) <= WIDTH for line in lines.splitlines())
