"""The result: what the estimate says of one case, with its doubt and where it comes from."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from pydantic import Field

from appraise.errors import Problem
from appraise.models.base import Model, WorkedOut

__all__ = [
    "NOT_PRICED",
    "Appraisal",
    "AreaCost",
    "BidPoint",
    "Comparison",
    "Driver",
    "FindingCost",
    "Judged",
    "Line",
    "MarketPoint",
    "Outcome",
    "Quantiles",
    "Repair",
    "Resale",
    "SellerView",
    "Verdict",
]


Judged = Literal["asking price", "price paid", "walk-away price", "nothing"]
Verdict = Literal["less", "within", "more"]

NOT_PRICED = "not priced yet: taken as a typical fault of this area"
"""Said beside the cost of a finding that names no job and no cause."""


class Quantiles(Model):
    """A number with its doubt, and how far the draws may be off."""

    mean: WorkedOut = Field(description="Mean")
    p10: WorkedOut = Field(description="One time in ten below")
    p50: WorkedOut = Field(description="Half the time below")
    p90: WorkedOut = Field(description="One time in ten above")
    mean_error: WorkedOut = Field(description="Monte-Carlo standard error of the mean")
    p50_error: WorkedOut = Field(description="Monte-Carlo standard error of the middle")


class Line(Model):
    """One line of a sum."""

    label: str
    amount: Decimal


class FaultBehind(Model):
    """A fault that may be behind a finding."""

    label: str
    chance: Decimal = Field(description="Chance that it is behind what was seen of the car")


class FindingCost(Model):
    """What one finding takes if it is mended alone."""

    id: str
    label: str
    chance: Decimal = Field(description="Chance that there is anything to repair")
    money: Quantiles = Field(description="Parts and shop")
    own_hours: Decimal = Field(description="Mean of your hours")
    note: str = Field(default="", description="What its cost stands for, where nobody priced it")
    behind: tuple[FaultBehind, ...] = Field(
        default=(), description="The likeliest faults behind it, most likely first"
    )

    @property
    def words(self) -> str:
        """The finding, and what its cost stands for where nobody priced it."""
        return f"{self.label} ({self.note})" if self.note else self.label


class AreaCost(Model):
    """What one area may still hide."""

    id: str
    label: str
    look: str = Field(description="The best inspection; empty if none")
    chance: Decimal = Field(description="Chance of a fault nobody has found")
    chance_before: Decimal = Field(description="The same, if nobody had inspected it")
    expected_money: Decimal = Field(description="Mean of parts and shop")
    expected_hours: Decimal = Field(description="Mean of your hours")


class Repair(Model):
    """What putting the car right takes."""

    money: Quantiles = Field(description="Parts, tools and shop")
    own_hours: Quantiles = Field(description="Your hours")
    priced: Quantiles = Field(description="Money and your hours at your hourly rate")
    found: Quantiles = Field(description="Money for what was found")
    unseen: Quantiles = Field(description="Money for what was not inspected")
    search_money: Decimal = Field(
        description="Mean money for finding the faults, parts bought in vain; in the whole"
    )
    search_minutes: Decimal = Field(description="Mean minutes for finding the faults; in the whole")
    shared: Decimal = Field(description="Mean money saved by what several jobs share")
    shop_bill: Quantiles = Field(description="What a shop would charge for what can be seen")
    days: Quantiles = Field(description="Days until repaired")
    by_finding: tuple[FindingCost, ...] = ()
    by_area: tuple[AreaCost, ...] = ()


class MarketPoint(Model):
    """A comparable as the fit sees it."""

    id: str
    age_years: Decimal
    miles: Decimal
    price: Decimal
    like_price: Decimal = Field(description="Turned into a sold price of a comparable car")
    at_this_age: Decimal = Field(description="The same, had it this car's age")
    weight: Decimal = Field(description="How much it counts, 0 to 1")
    kind: str


class BandPoint(Model):
    """The price of a car like this one at another distance."""

    miles: Decimal
    p10: Decimal
    p50: Decimal
    p90: Decimal


class Comparison(Model):
    """The price as it stands against what open adverts say."""

    discount: Decimal = Field(description="Share off the price after repair, here")
    adverts: Decimal = Field(description="Share off in adverts that admit unrepaired damage")


class Resale(Model):
    """What the car fetches."""

    mended: Quantiles
    as_it_stands: Quantiles
    per_year: Decimal = Field(description="Change of price a year of age, share")
    per_10000_miles: Decimal = Field(description="Change of price in 10,000 miles, share")
    spread: Decimal = Field(description="Spread of log price between comparable cars")
    freedom: Decimal = Field(description="Degrees of freedom behind it")
    leave_one_out: Decimal | None = Field(
        description="Mean error in predicting each comparable from the others, share"
    )
    days_to_sell: Quantiles
    points: tuple[MarketPoint, ...]
    band: tuple[BandPoint, ...]
    comparison: Comparison | None


class Outcome(Model):
    """What buying at one price leads to."""

    bid: Decimal
    landed_cost: Decimal
    landed_lines: tuple[Line, ...]
    margin: Quantiles = Field(description="Profit (your time paid)")
    margin_unpaid: Quantiles = Field(description="Profit before your time")
    chance_of_loss: Decimal
    chance_of_target: Decimal
    shortfall: Decimal = Field(description="Mean profit of the worst tenth")
    per_own_hour: Decimal | None = Field(
        description="Mean profit before your time, for each of your hours"
    )
    annualized: Decimal | None = Field(
        description="Mean profit on the money at risk as a share a year, compounded"
    )
    money_at_risk: Decimal = Field(description="Cost to buy and mean repair money")
    break_even_resale: Decimal = Field(description="Resale price at which the mean profit is nil")
    if_seller_knows: Decimal | None = Field(
        description="Mean profit if the seller knows what is wrong and accepts"
    )
    seller_accepts: Decimal = Field(
        description="Chance that a seller who knows what is wrong accepts"
    )
    steps: tuple[Line, ...] = Field(description="From the sale to the profit, on average")


class BidPoint(Model):
    """One point of the curve of bids."""

    bid: Decimal
    chance_of_loss: Decimal
    chance_of_target: Decimal
    mean_margin: Decimal


class Driver(Model):
    """One thing that makes the margin uncertain."""

    id: str
    label: str
    share: Decimal = Field(description="Share of the variance of the profit")


class SellerView(Model):
    """How much trouble the asking price admits, against what was found."""

    asking: Decimal = Field(description="Asking price")
    admitted: Decimal = Field(description="Price as good less the asking price")
    ordinary: Decimal = Field(
        description="Of that, what comparable cars without a fault are offered below: hassle "
        "and spread"
    )
    percentile: Decimal = Field(description="Share of the repair bills below that, 0 to 1")
    verdict: Verdict
    words: str


class Appraisal(Model):
    """What the estimate says of a case."""

    case_id: str
    currency: str
    seed: int
    draws: int
    walk_away_price: int | None = Field(
        description="Highest bid that still pays, down to a round step, or none"
    )
    walk_away_error: Decimal | None = Field(
        description="Monte-Carlo standard error of the highest bid that still pays"
    )
    walk_away_words: str
    asking_price: Decimal | None
    judged: Judged
    outcome: Outcome | None = Field(description="At the price judged")
    at_walk_away: Outcome | None = Field(description="At the walk-away price")
    curve: tuple[BidPoint, ...]
    repair: Repair
    resale: Resale
    drivers: tuple[Driver, ...]
    seller: SellerView | None
    problems: tuple[Problem, ...]
    values_used: tuple[str, ...] = Field(description="Ids of every reference value used")
    unsourced_share: Decimal = Field(description="Share of those without a published source")
