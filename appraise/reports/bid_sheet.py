"""The bid sheet: one page to hold at an auction."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import ROUND_DOWN, Decimal
from typing import Any

from appraise.engine.money.margin import landed_cost
from appraise.errors import one_line
from appraise.models.appraisal import Appraisal, BidPoint
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.models.told import Told
from appraise.reports.blocks import Block, bold, figure, item, listed, table, words
from appraise.reports.columns import amount
from appraise.reports.paper import head_of, printed
from appraise.reports.wording import chance_words, percent, sentence

__all__ = ["bid_sheet"]

MOST_WARNINGS, MANY_WARNINGS = 6, 2
BIDS, FEW_BIDS = 9, 3
MOST_FINDINGS, LEAST_FINDINGS, FINDINGS_A_WARNING = 9, 2, 2
"""Stops are all shown; bids and findings make room for them, so that it stays one page."""
STEPS = (50, 100, 200, 250, 500, 1000, 2000, 5000, 10_000)
SMALL_PRINT = (
    "A walk-away price is the highest bid that leaves the profit wanted at the confidence wanted, "
    "all fees in."
)


def bid_sheet(case: Case, appraisal: Appraisal, told: Told, on: date) -> bytes:
    """Return the bid sheet as PDF: where to stop, what each bid comes to, warnings, blind spots.

    Parameters
    ----------
    told : stops and warnings stand on it, and laws last; other notes are left out.
    """
    remarks = [*(one_line(sentence(one.words)) for one in told.laws), SMALL_PRINT]
    return printed(head_of(case, "Bid sheet", on), _blocks(case, appraisal, told), remarks, on)


def _blocks(case: Case, appraisal: Appraisal, told: Told) -> Iterable[Block]:
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
    yield _bids(case, appraisal, BIDS if len(grave) <= MANY_WARNINGS else FEW_BIDS)
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


def _bids(case: Case, appraisal: Appraisal, count: int) -> Block:
    """Return what bids about the walk-away price come to, all fees in."""
    rows = []
    stop = appraisal.walk_away_price
    for bid in _ladder(appraisal, count):
        point = _nearest(appraisal.curve, bid)
        landed = landed_cost(case.deal, bid)
        cells = [
            f"{bid:,.0f}",
            f"{landed:,.0f}",
            amount(point.mean_margin),
            chance_words(point.chance_of_loss),
            percent(point.chance_of_target),
        ]
        mark = ""
        if stop is not None and bid == stop:
            mark = "stop"
        elif bid == appraisal.asking_price:
            mark = "asked"
        rows.append([bold(one) if mark == "stop" else one for one in [*cells, mark]])
    return table(
        f"What a bid comes to, {case.currency}, all fees in",
        ("Bid", "Cost to buy", "Profit, on average", "Loses money", "Meets the target", ""),
        rows,
        widths=(1, 1, 1.2, 1.5, 1.2, 0.7),
        align=("right", "right", "right", "right", "right", "left"),
    )


def _ladder(appraisal: Appraisal, count: int) -> list[Decimal]:
    """Return round bids about the walk-away price, that price and the asking price among them."""
    marks = [
        Decimal(one)
        for one in (appraisal.walk_away_price, appraisal.asking_price)
        if one is not None
    ]
    middle = marks[0] if marks else max(one.bid for one in appraisal.curve) / 2
    span = max(Decimal(200), middle * Decimal("0.5"))
    step = Decimal(next((one for one in STEPS if one * (count - 1) >= span), STEPS[-1]))
    first = (middle / step).quantize(Decimal(1), ROUND_DOWN) * step - count // 2 * step
    round_bids = [first + step * at for at in range(count)]
    top = max(one.bid for one in appraisal.curve)
    return sorted({one for one in (*round_bids, *marks) if 0 < one <= top})


def _nearest(curve: Iterable[BidPoint], bid: Decimal) -> BidPoint:
    """Return the point of the curve at a bid, between its neighbors by a straight line."""
    points = sorted(curve, key=lambda one: one.bid)
    above = next((at for at, one in enumerate(points) if one.bid >= bid), len(points) - 1)
    high = points[above]
    low = points[max(0, above - 1)]
    if high.bid in (bid, low.bid):
        return high
    share = (bid - low.bid) / (high.bid - low.bid)

    def between(name: str) -> Decimal:
        one: Decimal = getattr(low, name)
        other: Decimal = getattr(high, name)
        return one + (other - one) * share

    return BidPoint(
        bid=bid,
        chance_of_loss=between("chance_of_loss"),
        chance_of_target=between("chance_of_target"),
        mean_margin=between("mean_margin"),
    )


def _repair(case: Case, appraisal: Appraisal, most: int) -> Block:
    found = sorted(appraisal.repair.by_finding, key=lambda one: -one.money.mean)
    rows: list[list[Any]] = [
        [one.words, f"{one.chance:.0%}", amount(one.money.mean), amount(one.own_hours, 1)]
        for one in found[:most]
    ]
    if len(found) > most:
        rest = found[most:]
        money = sum((one.money.mean for one in rest), Decimal(0))
        hours = sum((one.own_hours for one in rest), Decimal(0))
        rows.append([f"{len(rest)} more", "", amount(money), amount(hours, 1)])
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
