"""Who may sell a car, what its title says, and what must be in hand before money moves.

Facts of United States law with their section and of the practice, no advice; States differ.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

from appraise.engine.papers.odometer import CHECK, PRACTICE
from appraise.engine.papers.title_brands import find_brand
from appraise.errors import Problem

__all__ = [
    "HandFacts",
    "Item",
    "TitleFacts",
    "find_brand",
    "in_hand",
    "right_to_sell",
    "same_person",
]

Weight = Literal["stop", "warning", "note"]
ODOMETER = "49 CFR 580.5(c), (f)"


@dataclass(frozen=True, slots=True)
class TitleFacts:
    """What was seen of the title; None and empty text are not seen.

    Attributes
    ----------
    owners : names on the front, one each.
    joined : whether "and" or "or" stands between several owners.
    seller, buyer : who offers the car, and who wants it.
    assigned_to : name written where the title is signed over.
    signed : whether the owner has signed it over.
    power_of_attorney : whether the seller holds one of the owner.
    lien : a lender's claim: `none` named, `open`, or `released` on paper.
    brands : marks on it, by name.
    """

    owners: tuple[str, ...] = ()
    joined: Literal["and", "or"] | None = None
    seller: str = ""
    buyer: str = ""
    assigned_to: str = ""
    signed: bool | None = None
    power_of_attorney: bool | None = None
    lien: Literal["none", "open", "released"] | None = None
    bonded: bool = False
    duplicate: bool = False
    export_only: bool = False
    parts_only: bool = False
    scrap: bool = False
    brands: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HandFacts:
    """What is in hand; None is not looked at, and counts as open.

    Attributes
    ----------
    odometer_due : whether the mileage has to be disclosed; None counts as yes.
    vin_agrees : of the title with the car, in more than one place.
    brands_read : on the title, front and back, and in the State's record.
    """

    title: TitleFacts = field(default_factory=TitleFacts)
    original_seen: bool | None = None
    identity_seen: bool | None = None
    vin_agrees: bool | None = None
    brands_read: bool | None = None
    not_stolen: bool | None = None
    power_of_attorney_paper: bool | None = None
    lien_release: bool | None = None
    odometer_due: bool | None = None
    odometer_statement: bool | None = None
    bill_of_sale: bool | None = None


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that must be in hand before money moves."""

    label: str
    state: Literal["done", "open"]
    why: str
    section: str = PRACTICE


def _words(name: str) -> frozenset[str]:
    return frozenset(re.findall(r"\w+", name.casefold()))


def same_person(one: str, other: str) -> Literal["yes", "perhaps", "no"]:
    """Return whether two names as written are one person's: order, case and marks do not count.

    Examples
    --------
    >>> same_person("DOE, JOHN", "John Doe"), same_person("John A. Doe", "John Doe")
    ('yes', 'perhaps')
    """
    first, second = _words(one), _words(other)
    if not first or not second:
        return "no"
    if first == second:
        return "yes"
    return "perhaps" if min(len(first), len(second)) > 1 and _within(first, second) else "no"


def _within(first: frozenset[str], second: frozenset[str]) -> bool:
    return first < second or second < first


def _best(name: str, others: tuple[str, ...]) -> Literal["yes", "perhaps", "no"]:
    found = {same_person(name, one) for one in others}
    return "yes" if "yes" in found else "perhaps" if "perhaps" in found else "no"


def _problem(
    where: str, says: str, hint: str, weight: Weight = "warning", section: str = PRACTICE
) -> Problem:
    return Problem(f"title.{where}", f"{says} ({section})", weight, f"{hint.rstrip('.')}. {CHECK}")


# --- the right to sell ----------------------------------------------------------------------------


def right_to_sell(facts: TitleFacts) -> tuple[Problem, ...]:
    """Return what speaks against the seller's right to sell, or against the title itself.

    Nothing wrong and everything seen gives no problem; what was not seen gives a note.
    """
    return (*_seller(facts), *_signature(facts), *_lien(facts), *_kind(facts), *_brands(facts))


def _seller(facts: TitleFacts) -> Iterator[Problem]:
    owners = tuple(one for one in facts.owners if _words(one))
    if not owners:
        says = "no owner's name is read: nobody's right to sell is shown"
        yield _problem("owners", says, "Read the front of the title", "stop")
    elif not _words(facts.seller):
        yield _problem("seller", "the seller's name is not known", "Ask for it", "stop")
    else:
        yield from _seller_is_owner(facts, owners)
    if len(owners) > 1 and facts.joined != "or":
        says = f'{len(owners)} owners: joined by "and", all sign; by "or", one is enough'
        hint = "Read the word between the names; the odometer statement needs one signature"
        yield _problem("joined", says, hint, section=f"{PRACTICE}; 49 CFR 580.5(c)")


def _seller_is_owner(facts: TitleFacts, owners: tuple[str, ...]) -> Iterator[Problem]:
    match = _best(facts.seller, owners)
    if match == "yes":
        return
    if match == "perhaps":
        says = f"the title names {', '.join(owners)}, the seller is {facts.seller}"
        yield _problem("seller", says, "Compare an identity document with both names")
    elif facts.power_of_attorney:
        says = "the seller is not the owner and signs by a power of attorney"
        hint = "Keep it with the title; one person does not sign the odometer for both sides"
        section = "49 CFR 580.5(h), 580.13, 580.14"
        yield _problem("power_of_attorney", says, hint, "note", section)
    else:
        says = f"the seller, {facts.seller}, is neither named owner nor holds a power of attorney"
        yield _problem("seller", says, "Deal with the named owner", "stop")


def _signature(facts: TitleFacts) -> Iterator[Problem]:
    named = bool(_words(facts.assigned_to))
    stranger = bool(_words(facts.seller)) and any(_words(one) for one in facts.owners)
    stranger &= _best(facts.seller, facts.owners) == "no" and not facts.power_of_attorney
    if facts.signed is None:
        yield _problem("signed", "whether it is signed over is not seen", "Look at it", "note")
    elif not facts.signed:
        says = "it is not signed over: without the owner's signature ownership does not pass"
        yield _problem("signed", says, "See it signed when the money is paid", section=ODOMETER)
    elif not named:
        says = "signed open: signed over with no buyer named"
        hint = "Have the owner write the buyer's name, the day and the mileage"
        yield _problem("assigned_to", says, hint, section=ODOMETER)
    if named and _words(facts.buyer) and _best(facts.assigned_to, (facts.buyer,)) != "no":
        return
    if facts.signed and stranger:
        says = "skipped transfer: signed over by the owner, sold on by somebody never named as one"
        hint = "Have the seller title it first, or deal with the named owner"
        yield _problem("assigned_to", says, hint, "stop", f"{PRACTICE}; 49 CFR 580.5(c)")
    elif named and _words(facts.buyer):
        says = f"it is made out to {facts.assigned_to}, not to {facts.buyer}"
        yield _problem("assigned_to", says, "Ask the title office for a new one", "stop")


def _lien(facts: TitleFacts) -> Iterator[Problem]:
    if facts.lien is None:
        says = "whether a lender has a claim is not seen"
        yield _problem("lien", says, "Read the title and ask the State's record", "note")
    elif facts.lien == "open":
        says = "a lien is not released: the lender's claim goes with the car"
        yield _problem(
            "lien", says, "Pay the lender, not the seller, or wait for a release", "stop"
        )


def _kind(facts: TitleFacts) -> Iterator[Problem]:
    if facts.bonded:
        says = "bonded: ownership was not proved by papers; a bond covers claims for a time"
        yield _problem("bonded", says, "Ask how long the bond still runs")
    if facts.duplicate:
        says = "a duplicate: the first one may be with a lender or a buyer, and is void"
        yield _problem("duplicate", says, "Ask why it was lost; ask for liens in the record")
    if facts.export_only:
        says = "export only: it cannot be titled for the road in this country"
        yield _problem("export_only", says, "Count on no buyer here", "stop")
    if facts.parts_only:
        says = "parts only: it cannot be titled for the road again"
        yield _problem("parts_only", says, "Price it by its parts", "stop")
    if facts.scrap:
        says = "scrap: a junk automobile has no value but parts or scrap"
        yield _problem("scrap", says, "Price it by its scrap", "stop", "49 U.S.C. 30501(4)")


def _brands(facts: TitleFacts) -> Iterator[Problem]:
    told = {
        "export only": facts.export_only,
        "parts only": facts.parts_only,
        "junk": facts.scrap,
        "bond posted": facts.bonded,
    }
    for text in facts.brands:
        brand = find_brand(text)
        if brand is None:
            says = f"the brand {text!r} is not known by that name"
            yield _problem("brands", says, "Write the word on the title, not its number")
        elif brand.name not in ("clear", "odometer actual") and not told.get(brand.name):
            roads: dict[str, tuple[str, Weight]] = {
                "may": ("", "warning"),
                "not until inspected": ("; it has to be inspected before the road", "warning"),
                "not": ("; it cannot go on the road", "stop"),
            }
            more, weight = roads[brand.road]
            says = f"{brand.name}: {brand.means.rstrip('.')}{more}"
            yield _problem("brands", says, "Ask the title office", weight, "AAMVA D20")


# --- before money moves ---------------------------------------------------------------------------


def in_hand(facts: HandFacts) -> tuple[Item, ...]:
    """Return what must be in hand before money moves, each done or open.

    What does not arise, as a lien's release where there is no lien, is left out.
    """
    return tuple(
        Item(label, "done" if done else "open", why, section)
        for label, done, why, section in _wanted(facts)
    )


def _wanted(facts: HandFacts) -> Iterator[tuple[str, bool | None, str, str]]:
    title = facts.title
    owner = _best(title.seller, title.owners)
    yield "Title, the original", facts.original_seen, "a copy moves no ownership", PRACTICE
    why = "the number on dash, door and title is one; else it may be another car's title"
    yield "Identification number agrees", facts.vin_agrees, why, "49 CFR 580.5(c)(5)"
    why = "the name on it is that of the title or of the power of attorney"
    yield "Seller's identity document", facts.identity_seen, why, PRACTICE
    known = owner == "yes" or (owner == "perhaps" and facts.identity_seen)
    by_power = title.power_of_attorney and facts.power_of_attorney_paper
    why = "the seller is the named owner, or the owner's power of attorney is there"
    yield "Seller's right to sign", known or by_power, why, f"{PRACTICE}; 49 CFR 580.13, 580.14"
    signed = title.signed and bool(_words(title.assigned_to))
    if signed and _words(title.buyer):
        signed = _best(title.assigned_to, (title.buyer,)) == "yes"
    why = "signed by the owner, with the buyer's name on it"
    yield "Title signed over", signed, why, ODOMETER
    if title.lien != "none":
        why = "the lender says on paper that nothing is owed; else the claim goes with the car"
        yield "Release of every lien", facts.lien_release, why, PRACTICE
    if facts.odometer_due is not False:
        why = "without tenths, one of three statuses, signed by both sides"
        section = "49 CFR 580.5(c)-(f)"
        yield "Odometer statement, complete", facts.odometer_statement, why, section
    why = "every brand on both sides of the title and in the State's record"
    yield "Title brands read", facts.brands_read, why, "28 CFR 25.54"
    yield "Not reported stolen", facts.not_stolen, "a thief passes no title on", PRACTICE
    why = "day, price, both names and addresses, identification number"
    yield "Bill of sale", facts.bill_of_sale, why, PRACTICE
