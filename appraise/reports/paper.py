"""Papers to print, as PDF: what a person wrote goes in as data, never as part of the layout."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import lru_cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any, Literal

from appraise.errors import one_line
from appraise.models.case import Case
from appraise.models.parts import CoreRow, PartRow
from appraise.reports.blocks import TICK, Block, Cell, sums, table, under, words
from appraise.reports.columns import amount, clip
from appraise.reports.parts_page import (
    NO_SUPPLIER,
    PartsLists,
    Sum,
    by_supplier,
    sum_of,
)
from appraise.reports.wording import ESTIMATE

if TYPE_CHECKING:
    from typst import Fonts

__all__ = ["head_of", "parts_paper", "printed"]

LETTER_CURRENCY = "USD"
FOOT = 100
"""Columns of text that the foot of a page has room for on one line."""
NO_LETTERS = "could not be displayed"
"""How the layout program says that none of the fonts has a letter."""
BOXES = "Boxes stand for letters that no font of this program has."
NOTHING = "Nothing is to be bought, nothing is on the way, and no core is to be given back."
AMOUNT = "25"
"""Millimeters."""
EXPECTED = "About: what the catalog expects, tax in it; nobody has named a price yet."


def printed(
    head: Mapping[str, Any], blocks: Iterable[Block], remarks: Iterable[str], on: date
) -> bytes:
    """Return a paper as PDF, tagged for readers that speak (PDF/UA-1).

    Fonts are those inside the layout program; nothing is fetched. The same data give the same
    bytes. Where a text has letters that no font has, boxes stand for them, a remark says so, and
    the paper is no PDF/UA. What every paper says stands below its own remarks.

    Parameters
    ----------
    head : of `head_of`.
    remarks : in small print below the blocks.
    on : day that the file says it was made.
    """
    from typst import TypstError  # noqa: PLC0415 - only when printed
    from typst import compile as lay_out  # noqa: PLC0415

    data = {**head, "blocks": list(blocks), "remarks": [*remarks, ESTIMATE]}
    made = int(datetime.combine(on, time(), UTC).timestamp())
    with as_file(files("appraise.reports") / "templates") as folder:

        def once(given: Mapping[str, Any], standard: Literal["ua-1"] | None) -> bytes:
            return lay_out(
                folder / "sheet.typ",
                root=folder,
                font_paths=_fonts(),
                format="pdf",
                sys_inputs={"data": json.dumps(given)},
                pdf_standards=standard,
                timestamp=made,
            )

        try:
            return once(data, "ua-1")
        except TypstError as error:
            if NO_LETTERS not in error.message:
                raise
        return once({**data, "remarks": [*data["remarks"], BOXES]}, None)


@lru_cache(maxsize=1)
def _fonts() -> Fonts:
    from typst import Fonts  # noqa: PLC0415 - only when printed

    return Fonts(include_system_fonts=False, include_embedded_fonts=True)


def head_of(case: Case, title: str, on: date) -> dict[str, Any]:
    """Return what every paper needs: size, title, what it is about, day, foot and facts.

    US Letter where the money is the US dollar, else A4 (ISO 216).
    """
    car = case.vehicle
    facts = [
        ("Case", case.title),
        ("Car", car.name),
        ("Odometer", f"{car.odometer.value:,.0f} {car.odometer.unit}"),
        ("VIN", car.vin or "not entered"),
        ("Amounts in", case.currency),
    ]
    if car.plate:
        facts.append(("Plate", car.plate))
    return {
        "size": "us-letter" if case.currency == LETTER_CURRENCY else "a4",
        "lang": "en",
        "title": title,
        "about": one_line(case.title),
        "day": str(on),
        "foot": clip(f"{title}: {case.title}", FOOT),
        "facts": [{"label": label, "value": one_line(value)} for label, value in facts],
    }


def parts_paper(case: Case, lists: PartsLists) -> bytes:
    """Return a paper to take along: parts to buy by supplier, on the way, cores to give back."""
    buy = [one for one in lists.parts if one.state == "to order"]
    coming = [one for one in lists.parts if one.state in ("ordered", "late")]
    remarks = [EXPECTED] if any(one.expected for one in (*buy, *coming)) else []
    head = head_of(case, "Parts to buy", lists.on)
    return printed(head, _blocks(buy, coming, lists.cores), remarks, lists.on)


def _blocks(
    buy: list[PartRow], coming: list[PartRow], cores: tuple[CoreRow, ...]
) -> Iterator[Block]:
    for place, (supplier, parts) in enumerate(by_supplier(buy).items()):
        found = sum_of(parts)
        yield table(
            "" if place else "To buy",
            ("", "Qty", "Part", "Each", "Total", "Deposits"),
            map(_to_buy, parts),
            widths=("auto", "10", 1, AMOUNT, AMOUNT, AMOUNT),
            align=("left", "right", "left", "right", "right", "right"),
            foot=("", "", f"Together{_without(found)}", "", _total(found), _deposits(found)),
            below=one_line(supplier) or NO_SUPPLIER.capitalize(),
        )
    if coming:
        yield table(
            "On the way",
            ("", "Qty", "Part", "From", "Due", "Total"),
            map(_coming, coming),
            widths=("auto", "10", 1.4, 1, AMOUNT, AMOUNT),
            align=("left", "right", "left", "left", "right", "right"),
        )
    if cores:
        yield table(
            "Cores to give back",
            ("", "Old unit", "Deposit paid", "Given back", "Still to claim"),
            map(_core, cores),
            widths=("auto", 1, AMOUNT, AMOUNT, AMOUNT),
            align=("left", "left", "right", "right", "right"),
        )
    rows = [*_sums("To buy", buy), *_sums("On the way", coming)]
    if cores:
        claim = sum((one.left for one in cores), Decimal(0))
        rows.append(("Deposits to get back", amount(claim, 2)))
    yield sums("All together", rows) if rows else words("", [NOTHING])


def _to_buy(one: PartRow) -> list[Cell]:
    core = amount(one.core * one.quantity, 2) if one.core else ""
    prices = [_price(each, expected=one.expected) for each in (one.each, one.total)]
    return [TICK, f"{one.quantity}", under(one.label, _about(one)), *prices, core]


def _coming(one: PartRow) -> list[Cell]:
    due = under(f"{one.due or 'no day'}", "late" if one.state == "late" else "")
    total = _price(one.total, expected=one.expected)
    return [TICK, f"{one.quantity}", under(one.label, _about(one)), one.supplier, due, total]


def _core(one: CoreRow) -> list[Cell]:
    unit = under(", ".join(one.parts) or "Old unit", f"from {one.job_label}")
    return [TICK, unit, *(amount(each, 2) for each in (one.paid, one.back, one.left))]


def _about(one: PartRow) -> str:
    said = [f"for {one.job_label}", one.grade]
    said += [
        f"{what} {amount(value, 2)}"
        for what, value in (("shipping", one.shipping), ("tax", one.tax))
        if value
    ]
    return "; ".join(said)


def _price(value: Decimal | None, *, expected: bool) -> str:
    if value is None:
        return "no price"
    return f"about {amount(value, 2)}" if expected else amount(value, 2)


def _total(found: Sum) -> str:
    return _price(found.total, expected=bool(found.expected))


def _deposits(found: Sum) -> str:
    return amount(found.deposits, 2) if found.deposits else ""


def _without(found: Sum) -> str:
    return f", {found.unpriced} without a price" if found.unpriced else ""


def _sums(label: str, parts: list[PartRow]) -> list[tuple[str, str]]:
    found = sum_of(parts)
    rows = [(f"{label}{_without(found)}", _total(found))] if parts else []
    return rows + ([(f"Deposits, {label.lower()}", _deposits(found))] if found.deposits else [])
