"""Marks on a title, by their names in the AAMVA D20 list, and what each means.

Never keyed by number: number 46 meant one thing in one list and another in a later one. Names as
published in the NIEM 2.0 to 3.2 code list `VehicleBrandCode`; what each means is told in own words,
from memory, as State laws differ.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

__all__ = ["BRANDS", "Brand", "Road", "find_brand"]

Road = Literal["may", "not until inspected", "not"]


@dataclass(frozen=True, slots=True)
class Brand:
    """A mark on a title.

    Attributes
    ----------
    name : as in the list, lower case.
    means : one sentence.
    road : whether a car so marked may go on the road.
    later : whether it stands only in the later federal list (from memory).
    """

    name: str
    means: str
    road: Road = "may"
    later: bool = False


_MAY = (
    ("clear", "Nothing is marked; it does not say that nothing ever happened."),
    ("flood damage", "Water stood in it: wiring, modules and trim may fail later."),
    ("fire damage", "It burnt in part; heat harms wiring, paint and steel."),
    ("hail damage", "Hail dented its panels; glass may have been changed."),
    ("salt damage", "Salt, often sea water, got to it: corrosion goes on unseen."),
    ("vandalism", "Somebody damaged it on purpose."),
    ("kit", "It was put together from a kit, not by a car maker."),
    ("rebuilt", "It was once salvage, was repaired and passed an inspection."),
    ("reconstructed", "It was altered with major parts of other cars."),
    ("test vehicle", "Its maker used it for tests before it was sold."),
    ("refurbished", "It was put back in order after long or hard use."),
    ("collision", "Damage from a collision is on record, without salvage."),
    ("prior taxi", "It was once a taxi, and is not now."),
    ("prior police", "It was once a police car, and is not now."),
    ("original taxi", "It was a taxi when first titled."),
    ("original police", "It was a police car when first titled."),
    ("remanufactured", "It was made again from used and new parts by a business."),
    ("warranty return", "Its maker took it back under warranty, often for a lasting fault."),
    ("antique", "It is registered as very old, often with limits on its use."),
    ("classic", "It is registered as a collector's car, often with limits on its use."),
    ("agricultural", "It was registered for farm use."),
    ("logging", "It was registered for logging."),
    ("street rod", "An old car, much altered for the road."),
    ("contains reissued vin", "It bears an identification number that was issued again."),
    ("replica", "It copies another maker's or an older car."),
    ("totaled", "An insurer found that a repair would not pay."),
    ("owner retained", "The owner kept it after an insurer's total loss."),
    ("prior owner retained", "An earlier owner kept it after an insurer's total loss."),
    ("bond posted", "Ownership was not proved by papers; a bond covers claims for a time."),
    ("recovered theft", "It was stolen and found again; parts and locks may be missing."),
    ("undisclosed lien", "A lender may have a claim that the title does not name."),
    ("non-conformity uncorrected", "A lasting fault under a State's law was not mended."),
    ("non-conformity corrected", "A lasting fault under a State's law was mended."),
    ("gray market compliant", "It was brought in and altered to this market's rules."),
    ("safety defect corrected", "A defect that touches safety was mended."),
    ("vin replaced", "A State assigned it a new identification number."),
    ("odometer actual", "The reading was certified as the actual mileage."),
    ("odometer not actual", "The reading is not the mileage driven: do not rely on it."),
    ("odometer tampering verified", "The reading is not actual, and tampering was proved."),
    ("odometer exempt", "Nobody had to disclose the mileage, by age or weight."),
    ("odometer exceeds mechanical limits", "It has run past its highest figure."),
    ("odometer may be altered", "Somebody had reason to think that the reading was altered."),
    ("odometer replaced", "The instrument was changed; a notice may be on the door frame."),
    ("odometer reading at renewal", "The reading was noted when the registration was renewed."),
    ("odometer discrepancy", "Readings do not agree with each other."),
    ("call title division", "The State wants to be asked about this title."),
    ("odometer rectified", 'An earlier mark "exceeds mechanical limits" was put right.'),
)
_INSPECTED = (
    ("salvage", "A loss so great that repair and salvage value were more than its worth."),
    ("salvage retention", "A salvage car that its owner kept."),
    ("gray market", "It was not built for this market's safety and emission rules."),
    ("gray market non-compliant", "It was brought in and does not meet this market's rules."),
    ("safety defect uncorrected", "A defect that touches safety was not mended."),
)
_NOT = (
    ("dismantled", "It was taken apart for parts."),
    ("junk", "It cannot run on public roads and has no value but parts or scrap."),
    ("parts only", "It may be sold for its parts, never titled for the road again."),
    ("memorandum copy", "This is a copy for information: it moves no ownership."),
    ("export only", "It may be sold only to leave the country (AAMVA best practice of 2019)."),
)
_LATER = (
    Brand("manufacturer buy-back", "Its maker bought it back, often for a lasting fault."),
    Brand("former rental", "It was a hire car."),
    Brand("salvage stolen", "Salvage after a theft.", "not until inspected"),
    Brand("salvage other", "Salvage for another reason than damage.", "not until inspected"),
    Brand("disclosed damage", "A seller told of damage that was repaired."),
    Brand("prior non-repairable repaired", "Once non-repairable, since repaired."),
    Brand("crushed", "It was crushed; a whole car under this number is another.", "not"),
)

_ALL = (
    *(Brand(name, means) for name, means in _MAY),
    *(Brand(name, means, "not until inspected") for name, means in _INSPECTED),
    *(Brand(name, means, "not") for name, means in _NOT),
    *(Brand(one.name, one.means, one.road, later=True) for one in _LATER),
)
BRANDS = MappingProxyType({one.name: one for one in _ALL})
"""Every mark by its name."""
_SPELLED = {re.sub(r"[\W_]+", "", name): one for name, one in BRANDS.items()} | {
    re.sub(r"[\W_]+", "", other): BRANDS[name]
    for other, name in {
        "gray market": "gray market",
        "totalled": "totaled",
        "total loss": "totaled",
        "bonded": "bond posted",
        "flood": "flood damage",
        "theft recovered": "recovered theft",
        "not actual": "odometer not actual",
    }.items()
}


def find_brand(text: str) -> Brand | None:
    """Return the mark of a name, however it is spelt, or None; a number is no name.

    Examples
    --------
    >>> find_brand("Flood-Damage").name
    'flood damage'
    >>> find_brand("46") is None
    True
    """
    return _SPELLED.get(re.sub(r"[\W_]+", "", text.casefold()))
