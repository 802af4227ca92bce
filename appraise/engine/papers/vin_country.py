"""Where a maker sits, from the first two characters of a vehicle identification number.

The order of second characters is A to Z without I, O and Q, then 1 to 9, then 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from appraise.reference.load import shipped_list
from appraise.reference.schema import MakerPlace, MakerPlaces

__all__ = ["ORDER", "Place", "allocations", "maker_place"]

ORDER: Final = "ABCDEFGHJKLMNPRSTUVWXYZ1234567890"

REGIONS: Final = {
    "ABCDEFGH": "Africa",
    "JKLMNPR": "Asia",
    "STUVWXYZ": "Europe",
    "12345": "North America",
    "67": "Oceania",
    "890": "South America",
}


@dataclass(frozen=True, slots=True)
class Place:
    """Where a maker sits.

    Attributes
    ----------
    country : empty if the lists give the run to nobody.
    """

    region: str
    country: str
    standing: str = "public lists"

    @property
    def words(self) -> str:
        """Region and country on one line, with what the country rests on if it is little."""
        if not self.region:
            return "unknown"
        country = self.country or "country not in the lists"
        doubt = "" if self.standing == "public lists" else f" ({self.standing})"
        return f"{self.region}, {country}{doubt}"


@lru_cache(maxsize=1)
def allocations() -> tuple[MakerPlace, ...]:
    """Return every run of first two characters that is given to a country."""
    return shipped_list("maker_places", MakerPlaces).place


def _holds(run: MakerPlace, pair: str) -> bool:
    low, here, high = (ORDER.index(one[1]) for one in (run.first, pair, run.last))
    return pair[0] == run.first[0] and low <= here <= high


def maker_place(number: str) -> Place:
    """Return region and country of a maker from the first two characters of its numbers.

    Parameters
    ----------
    number : a vehicle identification number or its start; anything else is of no known place.

    Examples
    --------
    >>> maker_place("1G4").words, maker_place("WVW").words
    ('North America, United States', 'Europe, Germany')
    """
    pair = number[:2]
    if len(pair) < 2 or any(one not in ORDER for one in pair):  # noqa: PLR2004 - a pair
        return Place("", "")
    region = next(name for firsts, name in REGIONS.items() if pair[0] in firsts)
    found = next((one for one in allocations() if _holds(one, pair)), None)
    if found is None:
        return Place(region, "")
    return Place(region, found.country, found.standing)
