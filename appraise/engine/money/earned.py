"""What a car earned from the purchase to the sale, by every measure that means something."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from decimal import Decimal

from appraise.engine.draws.rounding import cents, share
from appraise.engine.money.margin import paid_for
from appraise.engine.money.returns import (
    CashFlow,
    annualized,
    break_even_price,
    per_hour,
    rates_of_return,
    simple_annual,
)
from appraise.errors import BadCase, Problem
from appraise.models.case import Case
from appraise.models.deal import Deal
from appraise.models.earned import DatedFlow, Earned

__all__ = ["break_even", "earned"]


def earned(case: Case, on: date, price: Decimal) -> Earned:
    """Return what a car earned; if it is not sold, what a sale on a day at a price would.

    Every payment counts on its day: the landed cost on the day of the purchase, entries on theirs,
    the sale less its costs on its own. Deposits that are not back count as money out. The day of
    the purchase counts as the first, and a sale on it as one day.

    Parameters
    ----------
    on, price : of the sale that is supposed; of no account once the car is sold.

    Raises
    ------
    BadCase
        The car is not bought, or the day lies before the purchase.
    """
    purchase, sale, deal = case.purchase, case.sale, case.deal
    if purchase is None:
        raise BadCase((Problem("purchase", "the car is not bought yet", "stop"),))
    sold = sale is not None and sale.price is not None and sale.sold_on is not None
    costs = price * deal.selling_percent / 100 + deal.selling_flat
    if sale is not None and sale.price is not None and sale.sold_on is not None:
        on, price, costs = sale.sold_on, sale.price, sale.costs
    if on < purchase.bought_on:
        message = f"the sale on {on} lies before the purchase on {purchase.bought_on}"
        raise BadCase((Problem("sale.sold_on", message, "stop"),))
    landed = paid_for(case, purchase.bid)
    costs = Decimal(cents(float(costs)))
    spent: defaultdict[date, Decimal] = defaultdict(Decimal)
    for entry in case.work.entries:
        spent[entry.on] += entry.paid
    repair = sum(spent.values(), Decimal(0))
    hours = sum((one.worked for one in case.work.entries), Decimal(0))
    flows = [
        DatedFlow(on=purchase.bought_on, label="Cost to buy", amount=-landed),
        *(
            DatedFlow(on=day, label="Repair", amount=-amount)
            for day, amount in sorted(spent.items())
            if amount
        ),
        DatedFlow(on=on, label="Sale, less its costs", amount=price - costs),
    ]
    margin = price - costs - landed - repair
    paid_hours = hours * deal.own_rate
    days = max(1, (on - purchase.bought_on).days)
    money_in = float(landed + repair)
    found = rates_of_return(CashFlow(one.on, float(one.amount)) for one in flows)
    yearly = annualized(float(margin), money_in, days)
    simple = simple_annual(float(margin), money_in, days)
    earned_per_hour = per_hour(float(margin), float(hours))
    return Earned(
        currency=case.currency,
        sold=sold,
        on=on,
        price=price,
        sale_costs=costs,
        landed=landed,
        repair=repair,
        margin=margin,
        margin_paid=margin - cents(float(paid_hours)),
        hours=hours,
        per_hour=None if earned_per_hour is None else cents(earned_per_hour),
        days=days,
        annualized=None if yearly is None else share(yearly),
        simple_annual=None if simple is None else share(simple),
        rates=tuple(share(one) for one in found.rates),
        rates_words=found.words,
        break_even=break_even(deal, money_in),
        break_even_hours=break_even(deal, money_in + float(paid_hours)),
        flows=tuple(flows),
    )


def break_even(deal: Deal, spent: float) -> Decimal:
    """Return the price at which what was spent comes back, the costs of the sale paid."""
    found = break_even_price(spent, 0.0, float(deal.selling_percent), float(deal.selling_flat))
    assert found is not None  # noqa: S101 - the model keeps the commission below the whole price
    return cents(found)
