"""Papers to print, as PDF: what a person wrote goes in as data, never as part of the layout."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import lru_cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any, Literal

from appraise.errors import one_line
from appraise.models.case import Case
from appraise.models.parts import CoreRow, PartRow
from appraise.reports.columns import amount, clip
from appraise.reports.parts_page import (
    NO_SUPPLIER,
    PartsLists,
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
EXPECTED = "About: what the catalog expects, tax in it; nobody has named a price yet."


def printed(template: str, data: Mapping[str, Any], on: date) -> bytes:
    """Return a paper as PDF, tagged for readers that speak (PDF/UA-1).

    Fonts are those inside the layout program; nothing is fetched. The same data give the same
    bytes. Where a text has letters that no font has, boxes stand for them, a remark says so, and
    the paper is no PDF/UA. What every paper says stands below its own remarks.

    Parameters
    ----------
    template : name of the layout in `templates`, without its ending.
    data : what is printed, with the head of `head_of` and `remarks`; texts, numbers and lists.
    on : day that the file says it was made.
    """
    from typst import TypstError  # noqa: PLC0415 - only when printed
    from typst import compile as lay_out  # noqa: PLC0415

    data = {**data, "remarks": [*data["remarks"], ESTIMATE]}
    made = int(datetime.combine(on, time(), UTC).timestamp())
    with as_file(files("appraise.reports") / "templates") as folder:

        def once(given: Mapping[str, Any], standard: Literal["ua-1"] | None) -> bytes:
            return lay_out(
                folder / f"{template}.typ",
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
    data = {
        **head_of(case, "Parts to buy", lists.on),
        "suppliers": [_supplier(name, parts) for name, parts in by_supplier(buy).items()],
        "coming": [_coming(one) for one in coming],
        "cores": [_core(one) for one in lists.cores],
        "sums": _sums(buy, coming, lists.cores),
        "remarks": [EXPECTED] if any(one.expected for one in (*buy, *coming)) else [],
    }
    return printed("parts", data, lists.on)


def _supplier(name: str, parts: list[PartRow]) -> dict[str, Any]:
    found = sum_of(parts)
    return {
        "name": one_line(name) or NO_SUPPLIER.capitalize(),
        "parts": [_part(one) for one in parts],
        "foot": {
            "label": f"Together{_without(found.unpriced)}",
            "total": _price(found.total, expected=bool(found.expected)),
            "deposits": amount(found.deposits, 2) if found.deposits else "",
        },
    }


def _part(one: PartRow) -> dict[str, str]:
    return {
        "quantity": str(one.quantity),
        "label": one_line(one.label),
        "about": _about(one),
        "each": _price(one.each, expected=one.expected),
        "total": _price(one.total, expected=one.expected),
        "deposit": amount(one.core * one.quantity, 2) if one.core else "",
    }


def _coming(one: PartRow) -> dict[str, str]:
    due = "no day" if one.due is None else str(one.due)
    return {
        "quantity": str(one.quantity),
        "label": one_line(one.label),
        "about": _about(one),
        "supplier": one_line(one.supplier),
        "due": due,
        "late": "late" if one.state == "late" else "",
        "total": _price(one.total, expected=one.expected),
    }


def _about(one: PartRow) -> str:
    words = [f"for {one.job_label}", one.grade]
    words += [
        f"{what} {amount(value, 2)}"
        for what, value in (("shipping", one.shipping), ("tax", one.tax))
        if value
    ]
    return one_line("; ".join(words))


def _price(value: Decimal | None, *, expected: bool) -> str:
    if value is None:
        return "no price"
    return f"about {amount(value, 2)}" if expected else amount(value, 2)


def _core(one: CoreRow) -> dict[str, str]:
    return {
        "label": one_line(", ".join(one.parts)) or "Old unit",
        "about": one_line(f"from {one.job_label}"),
        "paid": amount(one.paid, 2),
        "back": amount(one.back, 2),
        "left": amount(one.left, 2),
    }


def _totals(label: str, parts: Iterable[PartRow]) -> list[dict[str, str]]:
    found = sum_of(parts)
    if not found.lines:
        return []
    value = _price(found.total, expected=bool(found.expected))
    rows = [{"label": f"{label}{_without(found.unpriced)}", "value": value}]
    if found.deposits:
        rows.append({"label": f"Deposits, {label.lower()}", "value": amount(found.deposits, 2)})
    return rows


def _without(unpriced: int) -> str:
    return f", {unpriced} without a price" if unpriced else ""


def _sums(
    buy: list[PartRow], coming: list[PartRow], cores: tuple[CoreRow, ...]
) -> list[dict[str, str]]:
    rows = [*_totals("To buy", buy), *_totals("On the way", coming)]
    claim = sum((one.left for one in cores), Decimal(0))
    if cores:
        rows.append({"label": "Deposits to get back", "value": amount(claim, 2)})
    return rows
