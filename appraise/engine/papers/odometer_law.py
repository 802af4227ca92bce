"""The federal odometer law of the United States: who has to disclose, what, and what is forbidden.

49 CFR 580 and 49 U.S.C. chapter 327. Texts are facts with their section, no advice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum

from appraise.engine.papers.odometer import (
    CHECK,
    PRACTICE,
    History,
    Reading,
    Sign,
    below,
    history,
    possible_year,
)
from appraise.errors import AppraiseError

__all__ = [
    "FORBIDDEN",
    "PENALTIES",
    "STATEMENT",
    "Certifiable",
    "Duty",
    "Fact",
    "Status",
    "certifiable",
    "civil_action",
    "disclosure_duty",
    "instrument_swap",
    "newest_exempt_year",
    "title_conflicts",
]

OLD_RULE_YEARS, NEW_RULE_YEARS, LAST_OLD_RULE = 10, 20, 2010
HEAVY_LB = 16_000
DAMAGES_TIMES, DAMAGES_LEAST = 3, Decimal(10_000)
"""49 U.S.C. 32710(a)."""
TWO = 2


class Status(StrEnum):
    """What a seller certifies of a reading; exactly one applies (49 CFR 580.5(e)(1) to (3))."""

    ACTUAL = "actual"
    EXCEEDS = "in excess of mechanical limits"
    NOT_ACTUAL = "not actual"

    @property
    def section(self) -> str:
        """Its paragraph."""
        return f"49 CFR 580.5(e)({list(Status).index(self) + 1})"


@dataclass(frozen=True, slots=True)
class Fact:
    """What a law or the practice says, with its section."""

    section: str
    says: str

    @property
    def words(self) -> str:
        """The fact on one line, and where to look further."""
        return f"{self.says.rstrip('.')} ({self.section}). {CHECK}"


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


@dataclass(frozen=True, slots=True)
class Certifiable:
    """Which statuses the readings leave open, the seller's own knowledge apart.

    Attributes
    ----------
    why : one sentence a reason.
    """

    statuses: tuple[Status, ...]
    why: tuple[str, ...]


STATEMENT = (
    Fact("49 CFR 580.3, 580.5(c)", "Whoever transfers a car discloses the mileage on its title"),
    Fact("49 CFR 580.5(c)", "Of several who transfer, one signature is enough"),
    Fact(
        "49 CFR 580.5(c)(1)-(5)",
        "The statement holds the reading without tenths, the date, both names and addresses, and "
        "make, model, year, body and identification number",
    ),
    Fact("49 CFR 580.5(e)", "It says one of three: actual, in excess of limits, or not actual"),
    Fact("49 CFR 580.5(f)", "Whoever receives the car signs the statement too"),
    Fact(
        "49 CFR 580.5(h)",
        "One person does not sign for both sides, save by a power of attorney under 580.13 or "
        "580.14",
    ),
    Fact("49 CFR 580.7", "Of a leased car the lessee tells the lessor the mileage"),
    Fact("49 CFR 580.8(a)", "A dealer keeps copies for 5 years"),
    Fact(
        "49 U.S.C. 32705(a)(3)",
        "Whoever buys to sell again does not accept an incomplete statement",
    ),
)
FORBIDDEN = (
    Fact(
        "49 U.S.C. 32703(1)",
        "No one advertises, sells, uses or installs a device that makes an odometer register a "
        "wrong mileage",
    ),
    Fact(
        "49 U.S.C. 32703(2)",
        "No one disconnects, resets or alters an odometer to change its mileage",
    ),
    Fact(
        "49 U.S.C. 32703(3)",
        "No one drives, with intent to defraud, knowing that the odometer is disconnected",
    ),
    Fact("49 U.S.C. 32703(4)", "No one conspires to do any of these"),
    Fact("49 U.S.C. 32704(b)", "No one removes or alters the door frame notice to defraud"),
)
PENALTIES = (
    Fact(
        "49 U.S.C. 32709(a)",
        "Civil penalty up to $10,000 for each violation and $1,000,000 for a related series, "
        "before inflation",
    ),
    Fact(
        "49 U.S.C. 32710(a)",
        "Whoever violates with intent to defraud owes 3 times the damages or $10,000, the greater, "
        "before inflation",
    ),
)


def newest_exempt_year(transfer_year: int) -> int:
    """Return the newest model year that age exempts in a year (49 CFR 580.17(a)(3), (4)).

    Exempt is a model year up to 2010 from 1 January ten years on, a later one twenty years on.

    Examples
    --------
    >>> newest_exempt_year(2020), newest_exempt_year(2031)
    (2010, 2011)
    """
    return max(min(transfer_year - OLD_RULE_YEARS, LAST_OLD_RULE), transfer_year - NEW_RULE_YEARS)


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


# --- statuses -------------------------------------------------------------------------------------


def certifiable(found: History) -> Certifiable:
    """Return which statuses a history of readings leaves open (49 CFR 580.5(e)).

    A fall that nothing simple explains speaks against "actual"; an explained one leaves the
    question open; a high rate alone says nothing.
    """
    if len(found.readings) < TWO:
        return Certifiable(tuple(Status), ("fewer than two readings: nothing to compare",))
    serious = [
        one
        for one in found.signs
        if one.kind in ("fall", "impossible", "same day") and one.weight != "note"
    ]
    if not serious:
        return Certifiable((Status.ACTUAL,), ("no reading speaks against it",))
    left: set[Status] = set(Status)
    for one in serious:
        if one.reason == "roll-over":
            left &= {Status.EXCEEDS, Status.NOT_ACTUAL}
        elif one.kind == "fall" and not one.reason:
            left &= {Status.NOT_ACTUAL}
        else:
            left &= {Status.ACTUAL, Status.NOT_ACTUAL}
    order = tuple(one for one in Status if one in left)
    return Certifiable(order, tuple(f"{one.message}: {one.means}" for one in serious))


def title_conflicts(
    last: Reading,
    new: Reading,
    status: Status,
    *,
    on: date,
    last_status: Status | None = None,
) -> tuple[Sign, ...]:
    """Return what does not fit between the last reading on the title and a new statement.

    A new reading below the last one with the status "actual" is a conflict: it would have to be
    status 2 or 3 (49 CFR 580.5(e)(2), (3); compare 580.15(a), (c)). A reading once not actual does
    not become actual.

    Parameters
    ----------
    last, new : on the title, and now to be signed; a missing unit is that of the other.
    status : that the seller means to certify.
    on : day of the look.
    last_status : on the title; None if it is not read.
    """
    signs = history((last, new), on).signs
    unusable = tuple(one for one in signs if one.kind in ("value", "future day"))
    if unusable:
        return unusable
    out = []
    unit = new.unit or last.unit or "mi"
    pair = (replace(last, unit=last.unit or unit), replace(new, unit=unit))
    if new.day < last.day:
        out.append(
            Sign(
                "title",
                pair,
                f"signed for {new.day.isoformat()}, before the title's {last.day.isoformat()}",
                "a new statement bears the day of the transfer",
                "Read both days again.",
                "49 CFR 580.5(c)(2)",
            )
        )
    if status is Status.ACTUAL and below(pair[1], pair[0]):
        out.append(
            Sign(
                "title",
                pair,
                f"below the title: {pair[1].words}; {pair[0].words}",
                'with the status "actual" this is a conflict; status 2 or 3 would have to apply',
                "Ask for the papers behind both readings before anything is signed.",
                "49 CFR 580.5(e)(2), (3); 580.15(a), (c)",
                "stop",
            )
        )
    if status is Status.ACTUAL and last_status in (Status.EXCEEDS, Status.NOT_ACTUAL):
        out.append(
            Sign(
                "title",
                pair,
                f'the title says "{last_status}", the new statement "{status}"',
                "a mileage once unknown or past the limits does not become actual by driving",
                "Ask the title office whether the mark was ever put right.",
                f"{last_status.section}; {PRACTICE}",
            )
        )
    return tuple(out)


# --- instruments and damages ----------------------------------------------------------------------


def instrument_swap(*, keeps_mileage: bool | None) -> tuple[Fact, ...]:
    """Return what the law says of a repaired or replaced odometer (49 U.S.C. 32704).

    Parameters
    ----------
    keeps_mileage : whether the new one shows the same mileage; None if that is not known yet.
    """
    kept = Fact(
        "49 U.S.C. 32704(a)",
        "Repair or replacement is lawful if the mileage stays the same; a record of both readings "
        "shows that it did",
    )
    if keeps_mileage:
        return (kept,)
    changed = (
        Fact("49 U.S.C. 32704(a)(1)", "If the mileage cannot stay the same, it is set to zero"),
        Fact(
            "49 U.S.C. 32704(a)(2)",
            "The owner or their agent fixes a notice to the left door frame with the mileage "
            "before and the date",
        ),
        Fact("49 CFR 580.5(e)(3)", 'From then on the reading is "not actual" when disclosed'),
        FORBIDDEN[-1],
    )
    return changed if keeps_mileage is False else (kept, *changed)


def civil_action(damages: Decimal) -> Decimal:
    """Return what a buyer may claim: 3 times the damages or $10,000 (49 U.S.C. 32710(a)).

    Raises
    ------
    AppraiseError
        If the damages are negative or no number.

    Examples
    --------
    >>> civil_action(Decimal(2000)), civil_action(Decimal(5000))
    (Decimal('10000'), Decimal('15000'))
    """
    if not damages.is_finite() or damages < 0:
        raise AppraiseError(f"damages of {damages} cannot be", where="damages")
    return max(DAMAGES_TIMES * damages, DAMAGES_LEAST)
