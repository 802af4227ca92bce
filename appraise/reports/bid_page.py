"""The bid on one page of text."""

from __future__ import annotations

from appraise.errors import one_line
from appraise.models.appraisal import Appraisal, Outcome, Quantiles
from appraise.models.case import Case
from appraise.models.told import Told
from appraise.reference.load import Reference
from appraise.reports.wording import ESTIMATE, chance_words, percent, search_words, sentence

__all__ = ["bid_page"]

WIDTH = 78


def _row(label: str, given: Quantiles, unit: str = "") -> str:
    middle = f"{given.p50:,.0f}{unit}"
    return f"  {label:<32} {middle:>10}   ({given.p10:,.0f} to {given.p90:,.0f}{unit})"


def _outcome(outcome: Outcome, judged: str, money: str) -> list[str]:
    loss, target = chance_words(outcome.chance_of_loss), chance_words(outcome.chance_of_target)
    lines = [
        f"AT THE {judged.upper()} OF {outcome.bid:,.0f} {money}",
        f"  {'cost to buy':<32} {outcome.landed_cost:>10,.0f}",
        _row("profit (your time paid)", outcome.margin),
        _row("profit before your time", outcome.margin_unpaid),
        f"  chance of losing money: {loss};  of reaching the target: {target}",
        f"  mean of the worst tenth: {outcome.shortfall:,.0f}",
        f"  money at risk: {outcome.money_at_risk:,.0f}",
        f"  breaks even at a sale of {outcome.break_even_resale:,.0f}",
    ]
    if outcome.if_seller_knows is not None:
        lines.append(
            "  a seller who knows what is wrong accepts in "
            f"{percent(outcome.seller_accepts)} of cases; mean profit then: "
            f"{outcome.if_seller_knows:,.0f}"
        )
    return lines


def bid_page(case: Case, appraisal: Appraisal, reference: Reference, told: Told) -> str:
    """Return the bid as text: stops first, then the price, then what it hangs on, laws last."""
    car, money = case.vehicle, appraisal.currency
    lines = [
        f"{case.title}: {car.name}, {car.odometer.value:,.0f} {car.odometer.unit}",
        "=" * WIDTH,
    ]
    lines += [f"{'-' if one.weight == 'note' else '!'} {sentence(one.words)}" for one in told.first]
    price = appraisal.walk_away_price
    what = "WALK-AWAY PRICE" if case.purchase is None else "MOST IT WAS WORTH PAYING"
    lines += [
        "",
        f"{what}: {'no bid works' if price is None else f'{price:,} {money}'}",
        f"  {appraisal.walk_away_words}",
        "",
    ]
    if appraisal.outcome is not None:
        lines += [*_outcome(appraisal.outcome, appraisal.judged, money), ""]
    repair, resale = appraisal.repair, appraisal.resale
    searching = repair.search_minutes, repair.search_money
    lines += [
        "REPAIR (middle; one time in ten below, above; middles of parts do not add up)",
        _row("parts, tools, shop", repair.money),
        _row("  of it for what was found", repair.found),
        _row("  of it for what was not inspected", repair.unseen),
        _row("your hours", repair.own_hours, " h"),
        _row("days until repaired", repair.days, " d"),
        *([f"  {search_words(*searching, money)}"] if any(searching) else []),
        "",
        "SALE",
        _row("price after repair", resale.mended),
        _row("price as is", resale.as_it_stands),
        _row("days to sell", resale.days_to_sell, " d"),
    ]
    if appraisal.seller is not None:
        lines += ["", f"THE SELLER'S PRICE: {appraisal.seller.words}"]
    lines += ["", "WHAT MAKES IT UNCERTAIN"]
    lines += [f"  {100 * one.share:>4.0f} %  {one.label}" for one in appraisal.drivers[:6]]
    if told.laws:
        lines += ["", "LAW", *(f"  {sentence(one.words)}" for one in told.laws)]
    lines += [
        "",
        f"{appraisal.draws:,} draws, repeat number {appraisal.seed}.",
        f"Catalog in {reference.currency}.",
        f"{len(appraisal.values_used)} reference values used.",
        f"Without a published source: {100 * appraisal.unsourced_share:.0f} % of them.",
        ESTIMATE,
    ]
    return "\n".join(map(one_line, lines))
