"""Fit how often each fault shows each sign, from how often it is found behind the sign.

Run ``python .ci/fit_links.py`` after changing a share, a rate or a fault: it writes the word in
`shows` beside each share that has none, with ``--anew`` beside all of them, and prints the shares
that the words do not meet. Then read what it wrote as a mechanic would.

Alone, a sign is a fault's with the share ``p q / sum of p q`` of what is listed, with p the rate of
the fault and q how often it shows the sign. A common sign is shown by rarer faults more often: how
common it is, is the one free number of a sign.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np

from appraise.engine.catalog.values import Lookup
from appraise.engine.faults.rates import faults_of_car
from appraise.models.case import Case
from appraise.models.vehicle import Distance, DriveWheels, Fuel, Transmission, Vehicle
from appraise.reference.load import Reference, load_reference
from appraise.reference.schema import CodeGroup, Link, Symptom

CAUSES = Path(__file__).parents[1] / "appraise" / "reference" / "data" / "causes"
USUAL = (0.25, 0.7)
"""How often the fault that is found behind a sign shows it, in the middle: twice the largest share,
within these. A sign that many faults may be behind is one that each shows now and then."""
TOLD = 0.10
LINK = re.compile(r'\{ cause = "([^"]+)", share = ([0-9.]+)(?:, shows = "(\w+)")? \}')
CARS = (
    (Fuel.GASOLINE, Transmission.AUTOMATIC, DriveWheels.FRONT),
    (Fuel.GASOLINE, Transmission.MANUAL, DriveWheels.ALL),
    (Fuel.DIESEL, Transmission.DUAL_CLUTCH, DriveWheels.ALL),
    (Fuel.DIESEL, Transmission.MANUAL, DriveWheels.REAR),
    (Fuel.GASOLINE, Transmission.CONTINUOUS, DriveWheels.FRONT),
    (Fuel.PLUG_IN_HYBRID, Transmission.AUTOMATIC, DriveWheels.ALL),
    (Fuel.ELECTRIC, Transmission.SINGLE_SPEED, DriveWheels.REAR),
    (Fuel.GAS, Transmission.MANUAL, DriveWheels.FRONT),
)


def usual_rates(reference: Reference) -> dict[str, float]:
    """Return each fault's rate on the first kind of car that can have it, 12 years old."""
    out: dict[str, float] = {}
    for fuel, transmission, drive in CARS:
        car = Vehicle(
            make="Any",
            model="car",
            model_year=2013,
            fuel=fuel,
            transmission=transmission,
            drive=drive,
            odometer=Distance(value=Decimal(120_000), unit="mi"),
        )
        case = Case(id="any", title="Any", appraised_on=date(2025, 7, 1), vehicle=car)
        lookup = Lookup(reference)
        for one in faults_of_car(case, lookup).values():
            out.setdefault(one.id, one.rate)
    return out


def shares_of(
    links: Sequence[Link], rates: Mapping[str, float], words: Mapping[str, float]
) -> dict[str, float]:
    """Return the shares that the words of a sign's links give, of what is listed."""
    weights = {
        one.cause: rates.get(one.cause, 0.0) * words[one.shows.value] if one.shows else 0.0
        for one in links
    }
    listed, total = float(sum(one.share for one in links)), sum(weights.values())
    return {cause: listed * weight / (total or 1.0) for cause, weight in weights.items()}


def fitted(
    links: Sequence[Link], rates: Mapping[str, float], words: Mapping[str, float]
) -> list[str]:
    """Return the words that meet a sign's shares best."""
    names, scale = list(words), np.log(list(words.values()))
    share = np.array([float(one.share) for one in links])
    rate = np.array([rates.get(one.cause, 1e-6) for one in links])
    usual = min(max(2 * float(share.max()), USUAL[0]), USUAL[1])
    best, least = ["often"] * len(links), np.inf
    for common in np.geomspace(1e-5, 2, 240):
        wanted = np.log(np.clip(share * common / rate, 0.005, 1.2))
        nearest = np.abs(wanted[:, None] - scale).argmin(axis=1)
        shown = np.exp(scale[nearest])
        meets = rate * shown * share.sum() / (rate @ shown)
        off = np.log(share @ shown / share.sum() / usual)
        miss = float(np.abs(meets - share).sum() + 0.08 * off**2)
        if miss < least:
            best, least = [names[at] for at in nearest], miss
    return best


def not_met(reference: Reference) -> list[str]:
    """Return the shares that the words of the links do not meet, each in words."""
    rates = usual_rates(reference)
    table = reference.values["shows.chance"].table or {}
    chances = {word: float(chance) for word, chance in table.items()}
    out = []
    signs: dict[str, Symptom | CodeGroup] = {**reference.symptoms, **reference.code_groups}
    for name, sign in signs.items():
        meets = shares_of(sign.causes, rates, chances)
        out += [
            f"{name}: {one.cause} {one.share} wanted, {meets[one.cause]:.2f} met"
            for one in sign.causes
            if abs(meets[one.cause] - float(one.share)) > TOLD
        ]
    return out


def main() -> None:
    """Write the words and print what they do not meet."""
    reference = load_reference()
    rates = usual_rates(reference)
    table = reference.values["shows.chance"].table or {}
    chances = {word: float(chance) for word, chance in table.items()}
    signs: dict[str, Symptom | CodeGroup] = {**reference.symptoms, **reference.code_groups}
    for file in sorted(CAUSES.glob("*.toml")):
        parts = re.split(r"(?=^\[\[)", file.read_text(encoding="utf-8"), flags=re.MULTILINE)
        for at, part in enumerate(parts):
            name = re.search(r'^id = "([^"]+)"', part, re.MULTILINE)
            if name is None or name[1] not in signs:
                continue
            links = signs[name[1]].causes
            words = dict(
                zip((one.cause for one in links), fitted(links, rates, chances), strict=True)
            )

            def written(found: re.Match[str], words: Mapping[str, str] = words) -> str:
                kept = None if "--anew" in sys.argv else found[3]
                word = kept or words[found[1]]
                return f'{{ cause = "{found[1]}", share = {found[2]}, shows = "{word}" }}'

            parts[at] = LINK.sub(written, part)
        file.write_text("".join(parts), encoding="utf-8")
    for line in not_met(load_again()):
        sys.stdout.write(f"{line}\n")


def load_again() -> Reference:
    """Return the reference values as they were just written."""
    from importlib.resources import files  # noqa: PLC0415

    from appraise.reference.load import read_reference  # noqa: PLC0415

    return read_reference(files("appraise.reference") / "data")


if __name__ == "__main__":
    main()
