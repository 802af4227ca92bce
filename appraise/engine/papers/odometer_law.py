"""The federal odometer law of the United States: until when a transfer discloses the mileage.

49 CFR 580 and 49 U.S.C. chapter 327. Texts are facts with their section, no advice.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from appraise.engine.papers.odometer import possible_year

__all__ = ["Duty", "disclosure_duty"]

OLD_RULE_YEARS, NEW_RULE_YEARS, LAST_OLD_RULE = 10, 20, 2010
HEAVY_LB = 16_000


@dataclass(frozen=True, slots=True)
class Duty:
    """Whether the mileage has to be disclosed at a transfer.

    Attributes
    ----------
    required : None if what was given cannot be.
    exempt_from : first day on which age alone exempts the car.
    """

    required: bool | None
    why: str
    section: str
    exempt_from: date | None = None


def disclosure_duty(
    model_year: int,
    on: date,
    *,
    gvwr_lb: float | None = None,
    self_propelled: bool = True,
    new_from_maker: bool = False,
    to_agency: bool = False,
) -> Duty:
    """Return whether the mileage has to be disclosed at a transfer (49 CFR 580.17).

    Parameters
    ----------
    model_year : of the car.
    on : day of the transfer.
    gvwr_lb : gross vehicle weight rating, lb; taken as light if None.
    self_propelled : False for a trailer.
    new_from_maker : whether it is a new one before its first retail transfer.
    to_agency : whether its maker sells it to an agency of the United States.
    """
    if not possible_year(model_year, on):
        return Duty(None, f"{model_year} is no model year on {on.isoformat()}", "49 CFR 580.17")
    if gvwr_lb is not None and not gvwr_lb > 0:
        return Duty(None, f"a weight rating of {gvwr_lb:g} lb cannot be", "49 CFR 580.17(a)(1)")
    old = model_year <= LAST_OLD_RULE
    years = OLD_RULE_YEARS if old else NEW_RULE_YEARS
    age = "49 CFR 580.17(a)(3)" if old else "49 CFR 580.17(a)(4)"
    free = date(model_year + years, 1, 1)
    reasons = (
        (gvwr_lb is not None and gvwr_lb > HEAVY_LB, "rated above 16,000 lb", "(a)(1)"),
        (not self_propelled, "not self-propelled", "(a)(2)"),
        (to_agency, "sold by its maker to an agency of the United States", "(a)"),
        (new_from_maker, "new, before its first retail transfer", "(b)"),
    )
    for applies, why, paragraph in reasons:
        if applies:
            section = f"49 CFR 580.17{paragraph}"
            return Duty(required=False, why=f"exempt: {why}", section=section, exempt_from=free)
    rule = f"{years} years after 1 January {model_year}"
    required = on < free
    why = f"to be disclosed: before {rule}" if required else f"exempt: {rule} or later"
    return Duty(required=required, why=why, section=age, exempt_from=free)
