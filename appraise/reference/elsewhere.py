"""Words of the other side of the ocean, so that a search finds what it means here."""

from __future__ import annotations

__all__ = ["here"]

WORDS = {
    "aerial": "antenna",
    "aluminium": "aluminum",
    "bonnet": "hood",
    "boot": "trunk",
    "catalogue": "catalog",
    "colour": "color",
    "gearbox": "transmission",
    "handbrake": "parking brake",
    "headlamp": "headlight",
    "indicator": "turn signal",
    "kerb": "curb",
    "lamp": "light",
    "numberplate": "license plate",
    "odour": "odor",
    "petrol": "gasoline",
    "propshaft": "driveshaft",
    "sill": "rocker",
    "silencer": "muffler",
    "spanner": "wrench",
    "sump": "oil pan",
    "torch": "flashlight",
    "tyre": "tire",
    "windscreen": "windshield",
    "wing": "fender",
}


def here(word: str) -> tuple[str, ...]:
    """Return the words to look for: the one given, and what it is called in the United States.

    Examples
    --------
    >>> here("tyres"), here("brake")
    (('tyres', 'tires'), ('brake',))
    """
    stem, end = (word[:-1], "s") if word.endswith("s") else (word, "")
    told = WORDS.get(word) or (WORDS[stem] + end if stem in WORDS else None)
    return (word, told) if told else (word,)
