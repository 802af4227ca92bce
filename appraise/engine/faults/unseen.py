"""What may hide in the areas that were not looked at, or not looked at well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log2

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.models.case import Case
from appraise.models.findings import Area, Finding, Look, Severity, State
from appraise.reference.schema import AreaReference

__all__ = ["AreaDoubt", "Typical", "after_look", "area_doubts", "typical_of", "with_odds"]

Typical = tuple[tuple[str, float], ...]
"""(job id, weight) of an area's typical repairs; weights sum to 1."""


@dataclass(frozen=True, slots=True)
class AreaDoubt:
    """The chance that an area hides a fault nobody has found, and what it would take.

    Attributes
    ----------
    chance : in [0, 1], after the looks that were made.
    before : in [0, 1], had nobody looked.
    look : the look that finds most among those made, or None.
    typical : repairs that fit this car.
    """

    area: Area
    label: str
    chance: float
    before: float
    look: Look | None
    typical: Typical


def typical_of(area: AreaReference, prices: PriceList) -> Typical:
    """Return the typical repairs of an area that fit this car; none if no repair does."""
    fitting = [
        (one.job, float(one.weight))
        for one in area.typical
        if (job := prices.find(one.job)) is not None and not prices.fits(job)
    ]
    total = sum(weight for _, weight in fitting)
    return tuple((job, weight / total) for job, weight in fitting)


def typical_of_fault(
    area: Area, severity: Severity | None, prices: PriceList, lookup: Lookup
) -> Typical:
    """Return what an unknown fault of an area may take, by how severe it is.

    A repair that costs twice as much as another is ``f`` times likelier, f by severity: its weight
    is times ``cost^log2(f)``, at the catalog's rates, so that no rate, tax or level of the deal
    moves the weights. An electric car's fault in a system that it does not have is taken as one
    of its electrical system.

    Parameters
    ----------
    area : where it is.
    severity : as it was found; None leaves the weights as they are.
    prices : the price list, for which jobs fit this car.
    lookup : the reference values.
    """
    areas = lookup.reference.areas
    typical = typical_of(areas[area], prices) or typical_of(areas[Area.ELECTRICAL], prices)
    if severity is None:
        return typical
    power = log2(lookup.entry("unpriced.dearer", severity.value))
    costs = (_usual_cost(job, prices, lookup) for job, _ in typical)
    tilted = [weight * cost**power for (_, weight), cost in zip(typical, costs, strict=True)]
    total = sum(tilted)
    return tuple((job, one / total) for (job, _), one in zip(typical, tilted, strict=True))


def _usual_cost(job_id: str, prices: PriceList, lookup: Lookup) -> float:
    """Return about what a shop charges for a job by itself, by likely figures."""
    rate = lookup.spread("shop.rate", prices.level).likely
    markup = lookup.number("shop.parts_markup")
    money = hours = 0.0
    access: set[str] = set()
    for priced in prices.closure(job_id, f"job.{job_id}"):
        parts = sum(part.quantity * part.price.likely for part in priced.parts)
        money += parts + priced.consumables + (markup - 1) * priced.likely_goods
        hours += 0.0 if priced.job.shop_only else priced.hours.likely
        access |= set(priced.job.access)
    covered = {inner for one in access for inner in lookup.reference.access[one].covers}
    hours += sum(prices.access_hours(one).likely for one in sorted(access - covered))
    return max(money + hours * rate, prices.level)


def with_odds(chance: float, factor: float) -> float:
    """Return `chance` with its odds times `factor`: ``p f / (1 - p + p f)``.

    Examples
    --------
    >>> with_odds(0.5, 3.0)
    0.75
    """
    return chance * factor / (1 - chance + chance * factor)


def after_look(chance: float, found: float) -> float:
    """Return the chance of a fault after a look that found nothing: ``p(1-d)/(1-pd)``.

    Parameters
    ----------
    chance : p, before the look.
    found : d, the chance that such a look finds such a fault.

    Examples
    --------
    >>> after_look(0.2, 0.0), after_look(0.2, 1.0)
    (0.2, 0.0)
    """
    if chance * found >= 1:
        return 0.0
    return chance * (1 - found) / (1 - chance * found)


def _best_look(findings: Sequence[Finding], area: AreaReference) -> Look | None:
    looks = [
        finding.look or Look.GLANCE
        for finding in findings
        if finding.state is not State.NOT_LOOKED_AT
    ]
    return max(looks, key=lambda look: float(area.found.get(look, 0)), default=None)


def area_doubts(case: Case, prices: PriceList, lookup: Lookup) -> tuple[AreaDoubt, ...]:
    """Return what each area of the car may still hide.

    The base rate's odds are moved by age, by miles and by the car being sold cheap with trouble;
    a look that found nothing, or only what is listed, lowers the rest by how much such a look
    finds. A look of a kind that the area has no figure for finds nothing.

    Parameters
    ----------
    case : the car, with its findings.
    prices : the price list, for which jobs fit this car.
    lookup : the reference values.
    """
    age = case.vehicle.age_years(case.appraised_on)
    factor = (
        lookup.curve("unseen.age_factor", age)
        * lookup.curve("unseen.miles_factor", float(case.vehicle.odometer.miles))
        * lookup.number("unseen.trouble_factor")
    )
    out = []
    for area in Area:
        known = lookup.reference.areas[area]
        if case.vehicle.fuel in known.not_for:
            continue
        typical = typical_of(known, prices)
        if not typical:
            continue
        lookup.used.add(f"area.{area.value}")
        before = with_odds(float(known.rate), factor)
        look = _best_look([one for one in case.findings if one.area is area], known)
        found = float(known.found.get(look, 0)) if look else 0.0
        out.append(
            AreaDoubt(
                area=area,
                label=known.label,
                chance=after_look(before, found),
                before=before,
                look=look,
                typical=typical,
            )
        )
    return tuple(out)
