"""Words of the other side of the ocean, so that a search finds what it means here."""

from __future__ import annotations

__all__ = ["here"]

WORDS = {
    "aerial": "antenna",
    "anti-roll": "sway",
    "bonnet": "hood",
    "boot": "trunk",
    "colour": "color",
    "damper": "shock",
    "disc": "rotor",
    "earth": "ground",
    "gearbox": "transmission",
    "handbrake": "parking brake",
    "headlamp": "headlight",
    "headlining": "headliner",
    "indicator": "turn signal",
    "kerb": "curb",
    "lacquer": "clear coat",
    "lambda": "oxygen",
    "lamp": "light",
    "loom": "harness",
    "matrix": "core",
    "mend": "repair",
    "numberplate": "license plate",
    "odour": "odor",
    "petrol": "gasoline",
    "propshaft": "driveshaft",
    "reversing": "backup",
    "scuttle": "cowl",
    "servo": "booster",
    "silencer": "muffler",
    "sill": "rocker",
    "spanner": "wrench",
    "sump": "oil pan",
    "tailgate": "liftgate",
    "tappet": "lifter",
    "twin-clutch": "dual-clutch",
    "twin-mass": "dual-mass",
    "tyre": "tire",
    "underseal": "undercoat",
    "undertray": "splash shield",
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
