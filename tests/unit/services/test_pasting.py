"""Pasted lists of like cars: what each figure is, and what is asked instead of guessed.

The lines are made up in the manner of adverts and spreadsheets; how figures are grouped follows the
conventions of CLDR 45 (common/main: en, de, fr, de-CH, en-IN).
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from random import Random
from typing import Any

import pytest

from appraise.models.market import PriceKind, SoldBy
from appraise.services import reference_values
from appraise.services.inspection.pasting import Pasted, PastedRow, paste_comparables

TODAY = date(2026, 6, 1)
REFERENCE = reference_values()


def read(text: str, **given: Any) -> Pasted:
    settings = {"unit": "mi", "currency": "USD", "taken": (), "on": TODAY, **given}
    return paste_comparables(text, REFERENCE, **settings)


def row(line: str, **given: Any) -> PastedRow:
    (found,) = read(line, **given).rows
    return found


def figures(line: str, **given: Any) -> tuple[int, int, str, Decimal]:
    found = row(line, **given)
    comp = found.comparable
    assert comp is not None, found.problem
    return comp.model_year, int(comp.odometer.value), comp.odometer.unit, comp.price


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("2010, $4,150, 121,000 mi", (2010, 121_000, "mi", 4150)),
        ("2011 $3,950 139,000 mi", (2011, 139_000, "mi", 3950)),
        ("2014\t118,000\t7,450", (2014, 118_000, "mi", 7450)),
        ("2014\t118,000\t$7,450.00", (2014, 118_000, "mi", 7450)),
        ("2014\t$7,450\t118,000", (2014, 118_000, "mi", 7450)),
        ("2013, 126k, 6690, sold", (2013, 126_000, "mi", 6690)),
        ("2015; 90 000 km; 8.200; tidier; garaged", (2015, 90_000, "km", 8200)),
        ("2015; 90 000 km; 8.200; in better condition; garaged", (2015, 90_000, "km", 8200)),
        ("2012, 110,000 miles, $6,900", (2012, 110_000, "mi", 6900)),
        ("2012 | 110000 | 6900", (2012, 110_000, "mi", 6900)),
        ("2010,121000,4150", (2010, 121_000, "mi", 4150)),
        ('2010,"121,000","$4,150"', (2010, 121_000, "mi", 4150)),
        ("2010 121k $4.2k", (2010, 121_000, "mi", 4200)),
        ("2010 121 k miles 4150 USD", (2010, 121_000, "mi", 4150)),
        ("2010 121,000k miles 4150 dollars", (2010, 121_000, "mi", 4150)),
        ("2010 121.5k mi asking 4,150", (2010, 121_500, "mi", 4150)),
        ("Pellworth Trel 2.0 SE 2011, 139,000 mi, $3,950", (2011, 139_000, "mi", 3950)),
        ("2011 Pellworth 330x 5-door 139,000 $3,950", (2011, 139_000, "mi", 3950)),
        ("2011 Pellworth Trel 1998 cc 150 hp 139,000 mi $3,950", (2011, 139_000, "mi", 3950)),
        ("$3,950 OBO - 2011 Trel - 139k miles - call 555-0134", (2011, 139_000, "mi", 3950)),
        ("seen 2026-05-11: 2011 Trel 139,000 mi $3,950", (2011, 139_000, "mi", 3950)),
        ("2014 Trel, 2010 miles, $24,000", (2014, 2010, "mi", 24_000)),
        ("2012 3,950 $ 139,000 mi", (2012, 139_000, "mi", 3950)),
        ("2012 $ 3,950 139,000 mi", (2012, 139_000, "mi", 3950)),
        ("2012 $1,995 139,000 mi", (2012, 139_000, "mi", 1995)),
        ("Year: 2012 Mileage: 139,000 Price: 3,950", (2012, 139_000, "mi", 3950)),
        ("2012, 121,000 mi (194,732 km), $4,150", (2012, 121_000, "mi", 4150)),
    ],
)
def test_signs_and_units_say_what_a_figure_is(line: str, wanted: tuple[object, ...]) -> None:
    assert figures(line) == wanted


@pytest.mark.parametrize(
    ("line", "currency", "wanted"),
    [
        ("2011; 139.000 km; 3.950 €", "EUR", (2011, 139_000, "km", 3950)),
        ("05/2011 139.000 km 3.950,- €", "EUR", (2011, 139_000, "km", 3950)),
        ("2011 139 tkm 3.950,00 EUR", "EUR", (2011, 139_000, "km", 3950)),
        ("2011 139 000 km 3 950 €", "EUR", (2011, 139_000, "km", 3950)),
        ("2011 139\u202f000\u00a0km 3\u202f950\u00a0€", "EUR", (2011, 139_000, "km", 3950)),
        ("2011 km 139.000 € 3.950", "EUR", (2011, 139_000, "km", 3950)),
        ("2011 139'000 km CHF 3'950", "CHF", (2011, 139_000, "km", 3950)),
        ("2011 139\u2019000 km 3\u2019950 CHF", "CHF", (2011, 139_000, "km", 3950)),
        ("2011 1,39,000 km ₹ 3,45,000", "INR", (2011, 139_000, "km", 345_000)),
        ("2011 86,000 miles £3,995", "GBP", (2011, 86_000, "mi", 3995)),
        ("2011 86,000 miles 3995 pounds", "GBP", (2011, 86_000, "mi", 3995)),
        ("2011 139,000 km $3,950", "CAD", (2011, 139_000, "km", 3950)),
    ],
)
def test_figures_are_read_as_other_countries_write_them(
    line: str, currency: str, wanted: tuple[object, ...]
) -> None:
    assert figures(line, currency=currency) == wanted


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("2010, 4,150, 121,000", "which is the price, 4,150 or 121,000?"),
        ("2024 12,000 28,000", "which is the price, 12,000 or 28,000?"),
        ("2008 Trel 2000, 132,000 mi, $3,400", "two years: 2008 and 2000"),
        ("2011 139,000 mi $3,950 belt 2022", "two years: 2011 and 2022"),
        ("2012\t118,000\t1995", "two years: 2012 and 1995"),
        ("2011 139,000 mi $3,950 was $4,500", "two prices: 3,950 and 4,500"),
        ("2011 139,000 mi, belt at 90,000 mi, $3,950", "two distances: 139,000 and 90,000"),
        ("2014 Trel 1500 118,000 $7,450", "which is the distance, 1500 or 118,000?"),
        ("2012 3.950 € 139.000", "which is the price, 3.950 or 139.000?"),
        ("2012 Trel, 118,000 mi, 7,450 or 6,900", "which is the price, 7,450 or 6,900?"),
        ("14, 118,000 mi, $7,450", "no year"),
        ("2031, 118,000 mi, $7,450", "no year"),
        ("2014, $7,450", "no distance"),
        ("2014, 118,000 mi", "no price"),
        ("2014 118,000 mi £7,450", "in GBP"),
        ("2014 118 000 000 mi $7,450", "118,000,000 mi is more than"),
        ("2014 118,000 mi $0", "no price"),
    ],
)
def test_two_readings_are_asked_about_and_nothing_is_guessed(line: str, words: str) -> None:
    found = row(line)
    assert found.comparable is None
    assert words in found.problem.lower() or words in found.problem


@pytest.mark.parametrize(
    ("words", "condition"),
    [
        ("in better condition; garaged", "tidier"),
        ("worse; garaged", "rougher"),
        ("garaged", "alike"),
    ],
)
def test_better_and_worse_say_how_a_car_compares(words: str, condition: str) -> None:
    comp = row(f"2012, 110,000 miles, $6,900; {words}").comparable

    assert comp is not None
    assert (comp.condition.value, comp.note) == (condition, "garaged")


def test_the_order_chosen_settles_figures_that_nothing_marks() -> None:
    line = "2024 12,000 28,000"
    assert figures(line, order="distance") == (2024, 12_000, "mi", 28_000)
    assert figures(line, order="price") == (2024, 28_000, "mi", 12_000)
    assert figures("2012, 1995, 118,000", order="price") == (2012, 118_000, "mi", 1995)


def test_a_sign_outweighs_the_order_chosen() -> None:
    assert figures("2010 $4,150 121,000", order="distance") == (2010, 121_000, "mi", 4150)


def test_what_only_the_order_says_is_told_in_its_row() -> None:
    assert row("2014\t118,000\t7,450").remark == "118,000 read as the distance: no unit, no sign"
    assert not row("2014\t118,000 mi\t$7,450").remark


def test_next_year_is_a_model_year_and_the_one_after_is_none() -> None:
    assert figures("2027 12 mi $28,000")[0] == 2027
    assert row("2028 12 mi $28,000").comparable is None
    assert figures("1950 12,000 mi $28,000")[0] == 1950


def test_headings_say_what_the_columns_are() -> None:
    found = read("Price;Model year;Odometer (km);Offered by\n28,000;2024;12,000;dealer")
    (comp,) = found.comparables
    assert (comp.price, comp.model_year, comp.odometer.value, comp.odometer.unit) == (
        28_000,
        2024,
        12_000,
        "km",
    )
    assert comp.sold_by is SoldBy.DEALER
    assert not found.rows[0].remark


@pytest.mark.parametrize(
    ("words", "kind", "by"),
    [
        ("sold, dealer", "sold", "dealer"),
        ("Auction, sold", "sold", "auction"),
        ("private seller", "asked", "private"),
        ("asked, dealership", "asked", "dealer"),
        ("sold as is", "asked", None),
        ("not sold, auctioned", "asked", "auction"),
        ("one lady owner", "asked", None),
    ],
)
def test_words_say_asked_or_sold_and_who_offers(words: str, kind: str, by: str | None) -> None:
    comp = row(f"2011, 139,000 mi, $3,950, {words}").comparable
    assert comp is not None
    assert (comp.kind.value, comp.sold_by and comp.sold_by.value) == (kind, by)


def test_two_words_for_who_offers_are_told_and_neither_is_taken() -> None:
    found = row("2011, 139,000 mi, $3,950, private, no dealer please")
    assert found.comparable is not None
    assert found.comparable.sold_by is None
    assert "dealer and private" in found.remark


def test_one_choice_holds_for_every_row_that_says_nothing_else() -> None:
    text = "2011, 139,000 mi, $3,950\n2012, 120,000 mi, $4,950, private"
    found = read(text, kind=PriceKind.SOLD, sold_by=SoldBy.AUCTION).comparables
    assert [one.kind.value for one in found] == ["sold", "sold"]
    assert [one.sold_by and one.sold_by.value for one in found] == ["auction", "private"]


def test_what_is_no_figure_becomes_the_note() -> None:
    comp = row(
        "$3,950 OBO - 2011 Trel 2.0 - 139k miles - sold, new tires, call 555-0134"
    ).comparable
    assert comp is not None
    assert comp.note == "OBO Trel 2.0 new tires call 555-0134"


@pytest.mark.parametrize("note", ['=SUM("a","b")', "+1+1", "-2+3", "a,b", '5" scratch'])
def test_a_note_of_its_own_column_is_kept_as_it_is(note: str) -> None:
    comp = row(f"2014\t110000\t7000\t{note}").comparable
    assert comp is not None
    assert comp.note == note


LIST = "\n".join(
    f"{year}, {miles:,} mi, ${price:,}"
    for year, miles, price in [
        (2010, 121_000, 4150),
        (2011, 139_000, 3950),
        (2012, 110_000, 5200),
        (2009, 150_000, 3100),
        (2011, 98_000, 5100),
        (2010, 133_000, 3700),
        (2012, 125_000, 4800),
    ]
)


@pytest.mark.parametrize(("price", "odd"), [(43_000, [8]), (430, [8]), (4300, [])])
def test_a_row_that_does_not_fit_the_others_is_marked(price: int, odd: list[int]) -> None:
    rows = read(f"{LIST}\n2011, 120,000 mi, ${price:,}").rows
    assert [one.line for one in rows if one.odd] == odd


def test_a_row_is_held_against_the_cars_that_are_there_already() -> None:
    before = read(LIST).comparables
    found = read("2011, 120,000 mi, $43,000", before=before).rows
    assert [bool(one.odd) for one in found] == [True]


def test_three_rows_are_too_few_to_say_which_does_not_fit() -> None:
    rows = read("2010 121k mi $4,150\n2011 139k mi $3,950\n2011 120k mi $43,000").rows
    assert not any(one.odd for one in rows)


def test_an_empty_line_and_a_heading_are_no_rows() -> None:
    assert read("\nYear, miles, price\n\n").rows == ()


def _grouped(amount: int, chance: Random) -> str:
    mark = chance.choice([",", ".", "'", "\u202f", ""])
    return f"{amount:,}".replace(",", mark)


def test_a_line_whose_figures_are_all_marked_is_never_misread() -> None:
    """3,000 lines made at random, in any order; a figure's groups are not parted as columns are."""
    chance, asked = Random(12), 0  # noqa: S311 - lines for a test
    for _ in range(3000):
        year, price = chance.randint(1995, 2026), chance.randint(500, 40_000)
        far = chance.choice([chance.randint(100, 9_999), chance.randint(10_000, 250_000)])
        distance = _grouped(far, chance) + chance.choice([" mi", "mi", " miles", " km", "km"])
        amount = _grouped(price, chance)
        signed = chance.choice([f"${amount}", f"{amount}$", f"USD {amount}", f"{amount} dollars"])
        items = [str(year), distance, signed]
        chance.shuffle(items)
        items.insert(chance.randint(0, 3), chance.choice(["Trel", "2.0 SE", "dealer", "330x"]))
        line = chance.choice(["\t", "; ", " | ", ", ", " "]).join(items)
        comp = row(line).comparable
        if comp is None:
            asked += 1
            continue
        assert (comp.model_year, comp.odometer.value, comp.price) == (year, far, price), line
    assert asked < 30
