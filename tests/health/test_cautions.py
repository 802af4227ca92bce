"""Whatever can hurt somebody carries its caution: jobs, access, checks and measurements.

The rules are common practice: what names a hazard, or is done where it waits, warns of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from appraise.models.vehicle import Fuel
from appraise.reference.load import Reference, load_reference

Rule = Callable[[Any], bool]
ELECTRIC = {Fuel.HYBRID, Fuel.PLUG_IN_HYBRID, Fuel.ELECTRIC}


@pytest.fixture(scope="module")
def reference() -> Reference:
    return load_reference()


def words(one: Any) -> str:
    """Return what a job, a check or a limit says of itself."""
    parts = " ".join(part.label for part in getattr(one, "parts", ()))
    return " ".join((one.label, getattr(one, "how", ""), getattr(one, "note", ""), parts))


def names(pattern: str) -> Rule:
    """Return a rule: the words match."""
    found = re.compile(pattern, re.IGNORECASE)
    return lambda one: found.search(words(one)) is not None


def called(pattern: str) -> Rule:
    """Return a rule: the label alone matches."""
    found = re.compile(pattern, re.IGNORECASE)
    return lambda one: found.search(one.label) is not None


def carries(caution: str) -> Rule:
    """Return a rule: it warns of something that comes together with this."""
    return lambda one: caution in one.cautions


def needs(*places: str) -> Rule:
    """Return a rule: a check is made there."""
    return lambda one: getattr(one, "needs", "") in places


def any_of(*rules: Rule) -> Rule:
    return lambda one: any(rule(one) for rule in rules)


def all_but(rule: Rule, but: Rule) -> Rule:
    return lambda one: rule(one) and not but(one)


def diesel_only(one: Any) -> bool:
    return tuple(getattr(one, "fuels", ())) == (Fuel.DIESEL,) or "diesel" in one.label.lower()


def electric_only(one: Any) -> bool:
    fuels = set(getattr(one, "fuels", ()))
    return bool(fuels) and fuels <= ELECTRIC


def bleeds(one: Any) -> bool:
    return any(name.endswith(".bleed") for name in (one.id, *one.follows))


OIL = (
    r"(engine|transmission|differential|drive|transfer case|coupling) oil|transmission fluid"
    r"|drain plug"
    r"|oil (pan|pump|cooler|filter|pressure|level|pick-up|leak|line)|(crankshaft|camshaft) oil seal"
)
SPARK = (
    r"spark|ignition (coil|lead)|coil of the|coil or injector|compression test"
    r"|gas-discharge|discharge( bulb| ballast|,)"
)
INJECTION = r"injector|fuel rail|direct[- ]injection|fuel pressure"

JOBS: dict[str, Rule] = {
    "road_test": names(
        r"road test|test drive|short drive|straight drive|monitors driven|put in, driven"
    ),
    "ignition_voltage": all_but(names(SPARK), any_of(diesel_only, called("compressor"))),
    "gasoline_high_pressure": all_but(
        any_of(called(INJECTION), called("injection high-pressure")),
        any_of(diesel_only, called("exhaust fluid")),
    ),
    "hot_oil": names(OIL),
    "brake_fluid": any_of(bleeds, names("brake fluid")),
    "hybrid_ready": any_of(electric_only, carries("high_voltage")),
    "gas_struts": called(r"gas strut|^hood|^liftgate|liftgate hinge"),
    "cranking_or_running": any_of(carries("engine_running"), called("compression test")),
    "springs_rear": called(
        r"\brear (coil spring|leaf spring|shock|link or control|trailing arm|axle beam|subframe)"
        r"|\brear subframe"
    ),
}
CHECKS: dict[str, Rule] = {
    "road_test": any_of(
        needs("driven"),
        all_but(
            names(r"\bdriven?\b"),
            names(r"in drive\b|drive and reverse|last drive|any drive|dr[a-z]+ shaft|drive belt"),
        ),
    ),
    "ignition_voltage": all_but(
        names(r"spark|coil or injector|coil of the misfiring|compression test|leak-down test"),
        any_of(diesel_only, carries("road_test"), called("freeze frame|while cranking")),
    ),
    "gasoline_high_pressure": all_but(
        any_of(called(rf"^{INJECTION}|rail pressure|fuel sample"), names("injector plug")),
        any_of(diesel_only, called("correction")),
    ),
    "hot_oil": called(
        r"dipstick|oil (pressure|and filter)|dye in the oil|differential oil|\bpan\b"
        r"|automatic fluid"
    ),
    "brake_fluid": names(r"brake fluid|bleed screw"),
    "hybrid_ready": any_of(carries("high_voltage"), called(r"charge bar|electric drive")),
    "cranking_or_running": any_of(
        needs("running"), carries("engine_running"), names(r"\bcrank(s|ed)\b")
    ),
    "engine_running": needs("running"),
    "raised_car": needs("raised"),
}
LIMITS: dict[str, Rule] = {
    "road_test": called(r"stopping distance|full throttle"),
    "ignition_voltage": called(r"compression"),
    "hot_oil": called(r"oil pressure|dipstick"),
    "brake_fluid": called(r"brake fluid"),
    "engine_running": names(
        r"engine running|\bidl(e|ing)\b|rpm|running, R134a|engine starts|when the engine"
    ),
    "cranking_or_running": any_of(
        carries("engine_running"), called("compression"), names("cranking,")
    ),
    "raised_car": names(
        r"front raised|off the ground|lever under|\blinings?\b|backing plates|brake (drum|rotor)"
        r"|brake hoses|ball-joint seals|shock mounts|end play"
    ),
    "brake_dust": names(r"\blinings?\b|brake pad|brake (drum|rotor)|backing plates"),
    "brakes_tested": names(r"pedal"),
    "battery_12v": called(r"\bbattery\b|charging voltage|voltage drop"),
    "cooling": called(r"cooling system|coolant\?"),
    "air_conditioning": called(r"refrigerant|side pressure"),
    "exhaust_hot": called(r"back-pressure"),
    "compressed_air_in_cylinder": called(r"leak-down"),
}


def groups(reference: Reference) -> dict[str, tuple[dict[str, Rule], list[Any]]]:
    return {
        "jobs": (JOBS, [entry.job for entry in reference.jobs.values()]),
        "checks": (CHECKS, list(reference.checks.values())),
        "limits": (LIMITS, list(reference.limits.values())),
    }


@pytest.mark.parametrize(
    ("group", "caution"),
    [
        (group, caution)
        for group, rules in (("jobs", JOBS), ("checks", CHECKS), ("limits", LIMITS))
        for caution in rules
    ],
)
def test_whatever_meets_a_hazard_warns_of_it(
    reference: Reference, group: str, caution: str
) -> None:
    rules, members = groups(reference)[group]
    met = [one for one in members if rules[caution](one)]

    assert met, "a rule that meets nothing proves nothing"
    assert [one.id for one in met if caution not in one.cautions] == []


def test_an_access_at_the_rear_springs_says_so(reference: Reference) -> None:
    met = [one for one in reference.access.values() if re.search("rear_(damper|subframe)", one.id)]

    assert met
    assert [one.id for one in met if "springs_rear" not in one.cautions] == []


def test_a_measurement_names_only_cautions_that_there_are(reference: Reference) -> None:
    named = {caution for one in reference.limits.values() for caution in one.cautions}

    assert named
    assert named <= set(reference.cautions)


@pytest.mark.parametrize(
    ("caution", "said"),
    [
        # common practice of the trade for each
        ("road_test", ("brakes first", "second person", "legal road")),
        ("ignition_voltage", ("ballast", "pacemaker", "spark tester")),
        ("gasoline_high_pressure", ("release", "never feel", "emergency")),
        ("hot_oil", ("cool", "gloves")),
        ("brake_fluid", ("goggles", "water")),
        ("hybrid_ready", ("start its engine", "without a sound", "chocked")),
        ("gas_struts", ("prop", "never open")),
        ("cranking_or_running", ("chocked", "at the key", "nobody under")),
        ("springs_rear", ("jack", "leaf spring")),
    ],
)
def test_a_caution_says_what_to_do(
    reference: Reference, caution: str, said: tuple[str, ...]
) -> None:
    text = reference.cautions[caution].text.lower()

    assert [one for one in said if one not in text] == []
