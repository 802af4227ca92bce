"""The estimate as tables: prices of like cars, the bid, the doubt, what was not looked at, fees."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from appraise.models.appraisal import Appraisal, Outcome
from appraise.models.case import Case
from appraise.models.deal import FeeSchedule
from appraise.models.forecast import Forecast
from appraise.models.market import Comparable
from appraise.reports.table import Cell, Table, figures_table, table_of, yes
from appraise.reports.tables_look import look_words
from appraise.reports.wording import CONDITIONS, name

__all__ = [
    "areas_table",
    "band_table",
    "bids_table",
    "comparables_table",
    "doubt_table",
    "estimate_table",
    "fees_table",
    "landed_table",
    "steps_table",
]


def comparables_table(case: Case, appraisal: Appraisal | None) -> Table:
    """Return the like cars, with their prices as the fit sees them where there is one."""
    money, unit = case.currency, case.vehicle.odometer.unit
    fitted = {one.id: one for one in appraisal.resale.points} if appraisal else {}

    def distance(one: Comparable) -> Decimal:
        return round(one.odometer.miles if unit == "mi" else one.odometer.km, 1)

    def fit(one: Comparable, what: str) -> Decimal | None:
        return getattr(fitted.get(one.id), what, None)

    return table_of(
        "Comparable cars",
        case.market.comparables,
        ("Model year", 8, "year", lambda one: one.model_year),
        (f"Odometer, {unit}", 11, "count", distance),
        ("Price", 11, "money", lambda one: one.price),
        ("Currency", 9, "text", lambda one: one.currency or money),
        ("Asked or sold", 9, "text", lambda one: name(one.kind)),
        ("Offered by", 9, "text", lambda one: name(one.sold_by or "")),
        ("Condition against this car", 12, "text", lambda one: CONDITIONS[one.condition].title()),
        ("Title brand", 16, "text", lambda one: name(one.title_brand)),
        ("Left out", 8, "text", lambda one: yes(one.left_out)),
        (f"Sold, were it like this car, {money}", 14, "money", lambda one: fit(one, "like_price")),
        (f"The same at this car's age, {money}", 14, "money", lambda one: fit(one, "at_this_age")),
        ("Counts for", 9, "share", lambda one: fit(one, "weight")),
        ("Seen on", 12, "day", lambda one: one.seen_on),
        ("Note", 50, "text", lambda one: one.note),
    )


def band_table(appraisal: Appraisal) -> Table:
    """Return what a car like this one brings at other distances."""
    return table_of(
        "Price by distance",
        appraisal.resale.band,
        ("Odometer, mi", 12, "count", lambda one: one.miles),
        ("Price after repair", 12, "money range", lambda one: one),
        currency=appraisal.currency,
    )


def estimate_table(appraisal: Appraisal) -> Table:
    """Return the numbers of the estimate, each with its doubt."""
    money, repair, resale = appraisal.currency, appraisal.repair, appraisal.resale
    rows: list[tuple[str, str, Cell]] = [
        ("Price after repair", money, resale.mended),
        ("Price as is", money, resale.as_it_stands),
        ("Sold in", "days", resale.days_to_sell),
        ("Repair: parts, tools and shop", money, repair.money),
        ("Of it for what was found", money, repair.found),
        ("Of it for what was not inspected", money, repair.unseen),
        ("Your hours", "h", repair.own_hours),
        ("Repair with your hours priced", money, repair.priced),
        ("A shop's bill for what can be seen", money, repair.shop_bill),
        ("Repaired in", "days", repair.days),
        ("Walk-away price", money, appraisal.walk_away_price),
    ]
    for words, outcome in _outcomes(appraisal):
        rows += [(f"{words}: {what}", unit, given) for what, unit, given in _led_to(outcome, money)]
    return figures_table("Estimate", 48, rows)


def _led_to(outcome: Outcome, money: str) -> Iterator[tuple[str, str, Cell]]:
    yield ("bid", money, outcome.bid)
    yield ("cost to buy", money, outcome.landed_cost)
    yield ("profit (your time paid)", money, outcome.margin)
    yield ("profit before your time", money, outcome.margin_unpaid)
    yield ("chance of losing money", "%", outcome.chance_of_loss * 100)
    yield ("chance of the profit wanted", "%", outcome.chance_of_target * 100)
    yield ("profit in the worst tenth", money, outcome.shortfall)
    yield ("money at risk", money, outcome.money_at_risk)
    yield ("breaks even at a sale of", money, outcome.break_even_resale)
    yield ("each of your hours earns", money, outcome.per_own_hour)
    yield ("chance that a seller who knows accepts", "%", outcome.seller_accepts * 100)
    yield ("profit if the seller knows", money, outcome.if_seller_knows)


def _outcomes(appraisal: Appraisal) -> Iterator[tuple[str, Outcome]]:
    """Yield what buying leads to at the price judged and at the walk-away price."""
    if appraisal.outcome is not None:
        yield f"At the {appraisal.judged}", appraisal.outcome
    if appraisal.at_walk_away is not None and appraisal.judged != "walk-away price":
        yield "At the walk-away price", appraisal.at_walk_away


def bids_table(appraisal: Appraisal) -> Table:
    """Return what each bid leads to."""
    return table_of(
        "What each bid leads to",
        appraisal.curve,
        ("Bid", 12, "money", lambda one: one.bid),
        ("Chance of losing money", 12, "share", lambda one: one.chance_of_loss),
        ("Chance of the profit wanted", 12, "share", lambda one: one.chance_of_target),
        ("Profit on average", 13, "money", lambda one: one.mean_margin),
        currency=appraisal.currency,
    )


def steps_table(appraisal: Appraisal) -> Table:
    """Return the money from the sale to the margin, on average, at each price looked at."""
    return table_of(
        "From the sale to the profit",
        [
            (words, label, amount)
            for words, outcome in _outcomes(appraisal)
            for label, amount in (
                *((one.label, one.amount) for one in outcome.steps),
                ("Profit", outcome.margin.mean),
            )
        ],
        ("At which price", 24, "text", lambda row: row[0]),
        ("Line", 28, "text", lambda row: row[1]),
        ("On average", 13, "money", lambda row: row[2]),
        currency=appraisal.currency,
    )


def doubt_table(appraisal: Appraisal) -> Table:
    """Return what makes the margin uncertain."""
    return table_of(
        "What makes it uncertain",
        appraisal.drivers,
        ("What", 60, "text", lambda one: one.label),
        ("Share of the doubt", 12, "share", lambda one: one.share),
    )


def areas_table(appraisal: Appraisal) -> Table:
    """Return what each area may still hide, the dearest first."""
    return table_of(
        "What was not inspected",
        sorted(appraisal.repair.by_area, key=lambda one: -one.expected_money),
        ("Area", 24, "text", lambda one: one.label),
        ("Best inspection", 18, "text", lambda one: look_words(one.look)),
        ("Chance of a hidden fault", 11, "share", lambda one: one.chance),
        ("The same, if nobody had inspected it", 11, "share", lambda one: one.chance_before),
        ("Parts and shop on average", 14, "money", lambda one: one.expected_money),
        ("Your hours, on average", 11, "hours", lambda one: one.expected_hours),
        currency=appraisal.currency,
    )


def landed_table(currency: str, outcome: Outcome | None, forecast: Forecast | None) -> Table:
    """Return what the car costs until it stands in the yard: planned, and paid once it is."""
    if forecast is not None:
        return table_of(
            "Cost to buy",
            forecast.landed,
            ("Line", 34, "text", lambda one: one.label),
            ("Planned", 13, "money", lambda one: one.planned),
            ("Paid", 13, "money", lambda one: one.paid),
            currency=currency,
            foot=("Cost to buy", forecast.landed_planned, forecast.landed_paid),
        )
    return table_of(
        "Cost to buy",
        outcome.landed_lines if outcome else (),
        ("Line", 34, "text", lambda one: one.label),
        ("Planned", 13, "money", lambda one: one.amount),
        currency=currency,
        foot=("Cost to buy", outcome.landed_cost) if outcome else (),
    )


def fees_table(fees: Iterable[FeeSchedule], currency: str) -> Table:
    """Return a venue's fees, a row for each step."""
    return table_of(
        "Fees of the venue",
        [(schedule.name, step) for schedule in fees for step in schedule.steps],
        ("Fee", 30, "text", lambda row: row[0]),
        ("From a bid of", 13, "money", lambda row: row[1].starts_at),
        ("Flat", 12, "money", lambda row: row[1].flat),
        ("Percent of the bid", 10, "number", lambda row: row[1].percent),
        ("At most", 12, "money", lambda row: row[1].cap),
        currency=currency,
    )
