"""Where a maker sits, from the first two characters of a vehicle identification number.

The ranges are the allocation of ISO 3780 as public lists give it (an article of an encyclopaedia;
a list of 2003, "VIN Manufacturer Codes", pcmx.net); the standard itself is not free and was not
read. The order of second characters is A to Z without I, O and Q, then 1 to 9, then 0.
Parts of Africa, Asia and South America were dealt out anew in later lists: take the country as a
pointer, never as proof.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

__all__ = ["ALLOCATIONS", "ORDER", "Allocation", "Place", "maker_place"]

ORDER: Final = "ABCDEFGHJKLMNPRSTUVWXYZ1234567890"

Standing = Literal["public lists", "one public list", "from memory"]

REGIONS: Final = {
    "ABCDEFGH": "Africa",
    "JKLMNPR": "Asia",
    "STUVWXYZ": "Europe",
    "12345": "North America",
    "67": "Oceania",
    "890": "South America",
}


@dataclass(frozen=True, slots=True)
class Allocation:
    """A run of first two characters and the country it is given to.

    Attributes
    ----------
    first, last : the run's ends, both in it.
    standing : what the entry rests on.
    """

    first: str
    last: str
    country: str
    standing: Standing = "public lists"

    def holds(self, pair: str) -> bool:
        """Return whether two characters lie in the run."""
        if pair[0] != self.first[0]:
            return False
        low, here, high = (ORDER.index(one[1]) for one in (self.first, pair, self.last))
        return low <= here <= high


@dataclass(frozen=True, slots=True)
class Place:
    """Where a maker sits.

    Attributes
    ----------
    country : empty if the lists give the run to nobody.
    """

    region: str
    country: str
    standing: Standing = "public lists"

    @property
    def words(self) -> str:
        """Region and country on one line, with what the country rests on if it is little."""
        if not self.region:
            return "unknown"
        country = self.country or "country not in the lists"
        doubt = "" if self.standing == "public lists" else f" ({self.standing})"
        return f"{self.region}, {country}{doubt}"


ALLOCATIONS: Final = (
    Allocation("AA", "AH", "South Africa"),
    Allocation("AJ", "AN", "Ivory Coast"),
    Allocation("BA", "BE", "Angola"),
    Allocation("BF", "BK", "Kenya"),
    Allocation("BL", "BR", "Tanzania"),
    Allocation("CA", "CE", "Benin"),
    Allocation("CF", "CK", "Madagascar"),
    Allocation("CL", "CR", "Tunisia"),
    Allocation("DA", "DE", "Egypt"),
    Allocation("DF", "DK", "Morocco"),
    Allocation("DL", "DR", "Zambia"),
    Allocation("EA", "EE", "Ethiopia"),
    Allocation("EF", "EK", "Mozambique"),
    Allocation("FA", "FE", "Ghana"),
    Allocation("FF", "FK", "Nigeria"),
    Allocation("JA", "J0", "Japan"),
    Allocation("KA", "KE", "Sri Lanka"),
    Allocation("KF", "KK", "Israel"),
    Allocation("KL", "KR", "South Korea"),
    Allocation("LA", "L0", "China"),
    Allocation("MA", "ME", "India"),
    Allocation("MF", "MK", "Indonesia"),
    Allocation("ML", "MR", "Thailand"),
    Allocation("NF", "NK", "Pakistan"),
    Allocation("NL", "NR", "Turkey"),
    Allocation("PA", "PE", "Philippines"),
    Allocation("PF", "PK", "Singapore"),
    Allocation("PL", "PR", "Malaysia"),
    Allocation("RA", "RE", "United Arab Emirates"),
    Allocation("RF", "RK", "Taiwan"),
    Allocation("RL", "RR", "Vietnam"),
    Allocation("RS", "R0", "Saudi Arabia", "one public list"),
    Allocation("SA", "SM", "United Kingdom"),
    Allocation("SN", "ST", "Germany"),
    Allocation("SU", "SZ", "Poland"),
    Allocation("S1", "S4", "Latvia", "one public list"),
    Allocation("TA", "TH", "Switzerland"),
    Allocation("TJ", "TP", "Czech Republic"),
    Allocation("TR", "TV", "Hungary"),
    Allocation("TW", "T1", "Portugal"),
    Allocation("UH", "UM", "Denmark"),
    Allocation("UN", "UT", "Ireland"),
    Allocation("UU", "UZ", "Romania"),
    Allocation("U5", "U7", "Slovakia"),
    Allocation("VA", "VE", "Austria"),
    Allocation("VF", "VR", "France"),
    Allocation("VS", "VW", "Spain"),
    Allocation("VX", "V2", "Yugoslavia / Serbia"),
    Allocation("V3", "V5", "Croatia"),
    Allocation("V6", "V0", "Estonia"),
    Allocation("WA", "W0", "Germany"),
    Allocation("XA", "XE", "Bulgaria"),
    Allocation("XF", "XK", "Greece"),
    Allocation("XL", "XR", "Netherlands"),
    Allocation("XS", "XW", "USSR / Russia"),
    Allocation("XX", "X2", "Luxembourg"),
    Allocation("X3", "X0", "Russia"),
    Allocation("YA", "YE", "Belgium"),
    Allocation("YF", "YK", "Finland"),
    Allocation("YL", "YR", "Malta"),
    Allocation("YS", "YW", "Sweden"),
    Allocation("YX", "Y2", "Norway"),
    Allocation("Y3", "Y5", "Belarus"),
    Allocation("Y6", "Y0", "Ukraine"),
    Allocation("ZA", "ZR", "Italy"),
    Allocation("ZX", "Z2", "Slovenia"),
    Allocation("Z3", "Z5", "Lithuania"),
    Allocation("1A", "10", "United States"),
    Allocation("2A", "20", "Canada"),
    Allocation("3A", "3W", "Mexico"),
    Allocation("3X", "37", "Costa Rica"),
    Allocation("38", "30", "Cayman Islands"),
    Allocation("4A", "40", "United States"),
    Allocation("5A", "50", "United States"),
    Allocation("6A", "6W", "Australia"),
    Allocation("7A", "7E", "New Zealand"),
    Allocation("7F", "70", "United States", "from memory"),
    Allocation("8A", "8E", "Argentina"),
    Allocation("8F", "8K", "Chile"),
    Allocation("8L", "8R", "Ecuador"),
    Allocation("8S", "8W", "Peru"),
    Allocation("8X", "82", "Venezuela"),
    Allocation("9A", "9E", "Brazil"),
    Allocation("9F", "9K", "Colombia"),
    Allocation("9L", "9R", "Paraguay"),
    Allocation("9S", "9W", "Uruguay"),
    Allocation("9X", "92", "Trinidad and Tobago"),
    Allocation("93", "99", "Brazil"),
)


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
    found = next((one for one in ALLOCATIONS if one.holds(pair)), None)
    if found is None:
        return Place(region, "")
    return Place(region, found.country, found.standing)
