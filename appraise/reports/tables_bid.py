"""The estimate as tables: prices of like cars, the bid, the doubt, what was not looked at, fees."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from appraise.models.appraisal import Appraisal, Outcome, Quantiles
from appraise.models.case import Case
from appraise.models.deal import FeeSchedule
from appraise.models.forecast import Forecast
from appraise.reports.tables_look import look_words
from appraise.reports.wording import CONDITIONS, name
from appraise.reports.workbook import Column, Kind, Table, Value, range_columns, range_values

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
    rows = []
    for one in case.market.comparables:
        point = fitted.get(one.id)
        distance = one.odometer.miles if unit == "mi" else one.odometer.km
        rows.append(
            (
                one.model_year,
                round(distance, 1),
                one.price,
                one.currency or money,
                name(one.kind),
                name(one.sold_by) if one.sold_by else "",
                CONDITIONS[one.condition].capitalize(),
                name(one.title_brand),
                "yes" if one.left_out else "no",
                point.like_price if point else None,
                point.at_this_age if point else None,
                point.weight if point else None,
                one.seen_on,
                one.note,
            )
        )
    columns = (
        Column("Model year", 8, "year"),
        Column(f"Odometer, {unit}", 11, "count"),
        Column("Price", 11, "money"),
        Column("Currency", 9),
        Column("Asked or sold", 9),
        Column("Offered by", 9),
        Column("Condition against this car", 12),
        Column("Title brand", 16),
        Column("Left out", 8),
        Column(f"Sold, were it like this car, {money}", 14, "money"),
        Column(f"The same at this car's age, {money}", 14, "money"),
        Column("Counts for", 9, "share"),
        Column("Seen on", 12, "day"),
        Column("Note", 50),
    )
    return Table("Comparable cars", columns, tuple(rows))


def band_table(appraisal: Appraisal) -> Table:
    """Return what a car like this one brings at other distances."""
    columns = (
        Column("Odometer, mi", 12, "count"),
        *range_columns("Price after repair", appraisal.currency),
    )
    rows = tuple((one.miles, one.p10, one.p50, one.p90) for one in appraisal.resale.band)
    return Table("Price by distance", columns, rows)


def estimate_table(appraisal: Appraisal) -> Table:
    """Return the numbers of the estimate, each with its doubt."""
    money, repair, resale = appraisal.currency, appraisal.repair, appraisal.resale
    rows = [
        _doubtful("Price after repair", money, resale.mended),
        _doubtful("Price as is", money, resale.as_it_stands),
        _doubtful("Sold in", "days", resale.days_to_sell),
        _doubtful("Repair: parts, tools and shop", money, repair.money),
        _doubtful("Of it for what was found", money, repair.found),
        _doubtful("Of it for what was not inspected", money, repair.unseen),
        _doubtful("Your hours", "h", repair.own_hours),
        _doubtful("Repair with your hours priced", money, repair.priced),
        _doubtful("A shop's bill for what can be seen", money, repair.shop_bill),
        _doubtful("Repaired in", "days", repair.days),
        _sure("Walk-away price", money, appraisal.walk_away_price),
    ]
    for words, outcome in _outcomes(appraisal):
        accepts = outcome.seller_accepts * 100
        rows += [
            _sure(f"{words}: bid", money, outcome.bid),
            _sure(f"{words}: cost to buy", money, outcome.landed_cost),
            _doubtful(f"{words}: profit (your time paid)", money, outcome.margin),
            _doubtful(f"{words}: profit before your time", money, outcome.margin_unpaid),
            _sure(f"{words}: chance of losing money", "%", outcome.chance_of_loss * 100),
            _sure(f"{words}: chance of the profit wanted", "%", outcome.chance_of_target * 100),
            _sure(f"{words}: profit in the worst tenth", money, outcome.shortfall),
            _sure(f"{words}: money at risk", money, outcome.money_at_risk),
            _sure(f"{words}: breaks even at a sale of", money, outcome.break_even_resale),
            _sure(f"{words}: each of your hours earns", money, outcome.per_own_hour),
            _sure(f"{words}: chance that a seller who knows accepts", "%", accepts),
            _sure(f"{words}: profit if the seller knows", money, outcome.if_seller_knows),
        ]
    kind: Kind = "number"
    columns = (
        Column("What", 48),
        Column("Unit", 7),
        Column("Low: 1 in 10 below", 12, kind),
        Column("Likely: half below", 12, kind),
        Column("High: 1 in 10 above", 12, kind),
        Column("On average", 12, kind),
    )
    return Table(
        "Estimate", columns, tuple(one for one in rows if any(cell is not None for cell in one[2:]))
    )


def _doubtful(what: str, unit: str, given: Quantiles) -> tuple[Value, ...]:
    return (what, unit, *range_values(given), given.mean)


def _sure(what: str, unit: str, given: Decimal | int | None) -> tuple[Value, ...]:
    return (what, unit, None, given, None, None)


def _outcomes(appraisal: Appraisal) -> list[tuple[str, Outcome]]:
    """Return what buying leads to at the price judged and at the walk-away price."""
    out = []
    if appraisal.outcome is not None:
        out.append((f"At the {appraisal.judged}", appraisal.outcome))
    if appraisal.at_walk_away is not None and appraisal.judged != "walk-away price":
        out.append(("At the walk-away price", appraisal.at_walk_away))
    return out


def bids_table(appraisal: Appraisal) -> Table:
    """Return what each bid leads to."""
    rows = tuple(
        (one.bid, one.chance_of_loss, one.chance_of_target, one.mean_margin)
        for one in appraisal.curve
    )
    columns = (
        Column(f"Bid, {appraisal.currency}", 12, "money"),
        Column("Chance of losing money", 12, "share"),
        Column("Chance of the profit wanted", 12, "share"),
        Column(f"Profit on average, {appraisal.currency}", 13, "money"),
    )
    return Table("What each bid leads to", columns, rows)


def steps_table(appraisal: Appraisal) -> Table:
    """Return the money from the sale to the margin, on average, at each price looked at."""
    rows: list[tuple[Value, ...]] = []
    for words, outcome in _outcomes(appraisal):
        rows += [(words, one.label, one.amount) for one in outcome.steps]
        rows.append((words, "Profit", outcome.margin.mean))
    columns = (
        Column("At which price", 24),
        Column("Line", 28),
        Column(f"On average, {appraisal.currency}", 13, "money"),
    )
    return Table("From the sale to the profit", columns, tuple(rows))


def doubt_table(appraisal: Appraisal) -> Table:
    """Return what makes the margin uncertain."""
    columns = (Column("What", 60), Column("Share of the doubt", 12, "share"))
    rows = tuple((one.label, one.share) for one in appraisal.drivers)
    return Table("What makes it uncertain", columns, rows)


def areas_table(appraisal: Appraisal) -> Table:
    """Return what each area may still hide, the dearest first."""
    money = appraisal.currency
    areas = sorted(appraisal.repair.by_area, key=lambda one: -one.expected_money)
    rows = tuple(
        (
            one.label,
            look_words(one.look),
            one.chance,
            one.chance_before,
            one.expected_money,
            one.expected_hours,
        )
        for one in areas
    )
    columns = (
        Column("Area", 24),
        Column("Best inspection", 18),
        Column("Chance of a hidden fault", 11, "share"),
        Column("The same, if nobody had inspected it", 11, "share"),
        Column(f"Parts and shop on average, {money}", 14, "money"),
        Column("Your hours, on average", 11, "hours"),
    )
    return Table("What was not inspected", columns, rows)


def landed_table(currency: str, outcome: Outcome | None, forecast: Forecast | None) -> Table:
    """Return what the car costs until it stands in the yard: planned, and paid once it is."""
    planned = Column(f"Planned, {currency}", 13, "money")
    if forecast is not None:
        rows = [(one.label, one.planned, one.paid) for one in forecast.landed]
        return Table(
            "Cost to buy",
            (Column("Line", 34), planned, Column(f"Paid, {currency}", 13, "money")),
            tuple(rows),
            ("Cost to buy", forecast.landed_planned, forecast.landed_paid),
        )
    lines = outcome.landed_lines if outcome else ()
    return Table(
        "Cost to buy",
        (Column("Line", 34), planned),
        tuple((one.label, one.amount) for one in lines),
        ("Cost to buy", outcome.landed_cost) if outcome else (),
    )


def fees_table(fees: Iterable[FeeSchedule], currency: str) -> Table:
    """Return a venue's fees, a row for each step."""
    rows = tuple(
        (schedule.name, step.starts_at, step.flat, step.percent, step.cap)
        for schedule in fees
        for step in schedule.steps
    )
    columns = (
        Column("Fee", 30),
        Column(f"From a bid of, {currency}", 13, "money"),
        Column(f"Flat, {currency}", 12, "money"),
        Column("Percent of the bid", 10, "number"),
        Column(f"At most, {currency}", 12, "money"),
    )
    return Table("Fees of the venue", columns, rows)
