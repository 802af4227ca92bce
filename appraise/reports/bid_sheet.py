"""The bid sheet: one page to hold at an auction."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from appraise.engine.bid.ladder import Rung
from appraise.errors import one_line
from appraise.models.appraisal import Appraisal
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.models.told import Told
from appraise.reports.blocks import Block, bold, figure, item, listed, table, words
from appraise.reports.columns import amount
from appraise.reports.paper import head_of, printed
from appraise.reports.wording import chance_words, percent, sentence

__all__ = ["bid_sheet"]

MOST_WARNINGS = 6
MOST_FINDINGS, LEAST_FINDINGS, FINDINGS_A_WARNING = 8, 1, 2
"""Stops are all shown; findings make room for them, so that it stays one page."""
SMALL_PRINT = (
    "A walk-away price is the highest bid that leaves the profit wanted at the confidence wanted, "
    "all fees in."
)


def bid_sheet(
    case: Case, appraisal: Appraisal, told: Told, bids: Iterable[Rung], on: date
) -> bytes:
    """Return the bid sheet as PDF: where to stop, what each bid comes to, warnings, blind spots.

    Parameters
    ----------
    told : stops and warnings stand on it, and laws last; other notes are left out.
    """
    remarks = [*(one_line(sentence(one.words)) for one in told.laws), SMALL_PRINT]
    return printed(
        head_of(case, "Bid sheet", on), _blocks(case, appraisal, told, bids), remarks, on
    )


def _blocks(case: Case, appraisal: Appraisal, told: Told, bids: Iterable[Rung]) -> Iterable[Block]:
    price = appraisal.walk_away_price
    price_words = "No bid" if price is None else f"{price:,} {case.currency}"
    owned = case.purchase is not None
    label = "Most it was worth paying" if owned else "Walk-away price: stop here"
    yield figure(label, price_words, appraisal.walk_away_words)
    grave = (*told.stops, *told.warnings)
    if grave:
        shown = grave[: max(MOST_WARNINGS, len(told.stops))]
        more = len(grave) - len(shown)
        items = [item(one.message, one.hint) for one in shown]
        items += [item(f"and {more} more, on the screen")] if more > 0 else []
        yield listed("Stops and warnings" if owned else "Before you bid", items)
    yield _bids(case.currency, bids)
    room = MOST_FINDINGS - FINDINGS_A_WARNING * len(grave) - len(told.laws)
    yield _repair(case, appraisal, max(LEAST_FINDINGS, room))
    blind = [one.label for one in appraisal.repair.by_area if not one.look]
    if blind:
        unseen = appraisal.repair.unseen
        hidden = (
            f"What they may hide is in the price with {unseen.mean:,.0f} {case.currency} on "
            f"average, {unseen.p90:,.0f} or more one time in ten ({len(blind)} of {len(Area)} "
            "areas)."
        )
        yield words("Not inspected", [f"{', '.join(blind)}.", hidden])


def _bids(currency: str, bids: Iterable[Rung]) -> Block:
    """Return what bids about the walk-away price come to, all fees in."""
    rows = []
    for one in bids:
        cells = [
            f"{one.bid:,.0f}",
            f"{one.landed:,.0f}",
            amount(one.mean_margin),
            chance_words(one.chance_of_loss),
            percent(one.chance_of_target),
            one.mark,
        ]
        rows.append([bold(each) if one.mark == "stop" else each for each in cells])
    return table(
        f"What a bid comes to, {currency}, all fees in",
        ("Bid", "Cost to buy", "Profit, on average", "Loses money", "Meets the target", ""),
        rows,
        widths=(1, 1, 1.2, 1.5, 1.2, 0.7),
        align=("right", "right", "right", "right", "right", "left"),
    )


def _repair(case: Case, appraisal: Appraisal, most: int) -> Block:
    found = sorted(appraisal.repair.by_finding, key=lambda one: -one.money.mean)
    rows: list[list[Any]] = [
        [one.words, f"{100 * one.chance:.0f} %", amount(one.money.mean), amount(one.own_hours, 1)]
        for one in found[:most]
    ]
    if len(found) > most:
        rest = found[most:]
        money = sum((one.money.mean for one in rest), Decimal(0))
        hours = sum((one.own_hours for one in rest), Decimal(0))
        rows.append([f"{len(rest)} more", "", amount(money), amount(hours, 1)])
    minutes, money = appraisal.repair.search_minutes, appraisal.repair.search_money
    if minutes or money:
        words = f"Finding the faults: {minutes:,.0f} min (in the repair)"
        rows.append([words, "", amount(money), amount(minutes / 60, 1)])
    whole = appraisal.repair.money
    rows.append(
        [
            bold("The whole repair (8 in 10)"),
            "",
            bold(f"{amount(whole.p10)} to {amount(whole.p90)}"),
            bold(amount(appraisal.repair.own_hours.mean, 1)),
        ]
    )
    return table(
        "What was found",
        ("Finding", "Chance", f"{case.currency}, on average", "Your hours"),
        rows,
        widths=(3.2, 0.7, 1.5, 0.9),
        align=("left", "right", "right", "right"),
    )
