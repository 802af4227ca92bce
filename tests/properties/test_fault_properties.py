"""What holds of faults behind signs, on random networks and on random cars."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from fault_sets import random_group

from appraise.engine.catalog.prices import PriceList
from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.car import CarFaults, car_faults
from appraise.engine.faults.network import Group, explain
from appraise.engine.repair.repair import RepairDraws, repair
from appraise.models.case import Case
from appraise.reference.load import Reference
from appraise.reference.schema import Shows

NETWORKS, CARS = 500, 500
ROUNDING = 1e-12
PRICED, DRAWS = 40, 4000
"""Cars of which the whole repair is worked out, and the draws of each."""
FOUR = 4
LESS = {
    None: None,
    Shows.ALWAYS: Shows.MOSTLY,
    Shows.MOSTLY: Shows.OFTEN,
    Shows.OFTEN: Shows.SOMETIMES,
    Shows.SOMETIMES: Shows.RARELY,
    Shows.RARELY: Shows.RARELY,
    Shows.HARDLY_EVER: Shows.HARDLY_EVER,
}


def with_sign(group: Group, leak: float, **shows: float) -> Group:
    """Return a group with one sign more, shown by those faults."""
    new = len(group.leaks)
    return replace(
        group,
        links=tuple(
            (*one, (new, shows[name])) if name in shows else one
            for name, one in zip(group.names, group.links, strict=True)
        ),
        leaks=np.append(group.leaks, leak),
    )


def short(group: Group) -> Group:
    return replace(group, names=tuple(f"f{at}" for at in range(len(group.names))))


def test_a_sign_that_one_fault_and_something_else_can_show_never_lowers_its_odds() -> None:
    generator = np.random.default_rng(1)
    for _ in range(NETWORKS):
        group = short(random_group(generator, int(generator.integers(1, 9)), 4))
        more = with_sign(group, float(generator.uniform(0, 0.2)), f0=float(generator.random()))
        assert explain(more).chances[0, 0] >= explain(group).chances[0, 0] - ROUNDING


def test_proving_a_fault_lowers_its_rivals_for_the_same_signs() -> None:
    """Explaining away: two faults behind the same signs; noisy-OR is log-submodular in them."""
    generator = np.random.default_rng(2)
    for _ in range(NETWORKS):
        group = random_group(generator, 2, int(generator.integers(1, 6)))
        every = tuple(
            (sign, 0.5 + 0.4 * float(generator.random())) for sign in range(len(group.leaks))
        )
        group = replace(group, links=(every, every))
        proved = group.chances.copy()
        proved[0, 0] = 1.0
        sure = explain(replace(group, chances=proved)).chances[0, 1]
        assert sure < explain(group).chances[0, 1]


def test_a_fault_that_was_looked_for_and_not_found_is_less_likely() -> None:
    generator = np.random.default_rng(3)
    for _ in range(NETWORKS):
        group = random_group(generator, int(generator.integers(1, 9)), 4)
        less = group.weights.copy()
        less[0] *= generator.random()
        assert (
            explain(replace(group, weights=less)).chances[0, 0]
            <= explain(group).chances[0, 0] + ROUNDING
        )


def random_car(generator: np.random.Generator, reference: Reference, **more: Any) -> Case:
    """Return a car of random age and build with one to five symptoms of the catalog."""
    names = sorted(reference.symptoms)
    picked = generator.choice(len(names), int(generator.integers(1, 6)), replace=False)
    findings = []
    for at in picked.tolist():
        symptom = reference.symptoms[names[at]]
        raw = {"id": f"f-{at}", "area": symptom.area.value, "symptom": symptom.id}
        if generator.random() < 0.3:
            raw |= {"state": "suspect", "chance": f"{generator.uniform(0.1, 0.9):.2f}"}
        findings.append({"state": "faulty"} | raw)
    raw = {
        "id": "case",
        "title": "Case",
        "appraised_on": "2026-06-30",
        "vehicle": {
            "make": "Invented",
            "model": "One",
            "model_year": int(generator.integers(2006, 2023)),
            "odometer": {"value": int(generator.integers(20_000, 180_000)), "unit": "mi"},
            "fuel": str(generator.choice(["gasoline", "diesel"])),
        },
        "findings": findings,
        "draws": 1000,
    }
    return Case.model_validate(raw | more)


def faults_of(case: Case, reference: Reference) -> CarFaults:
    lookup = Lookup(reference)
    streams = Streams(case.seed, case.draws)
    return car_faults(case, streams, lookup)


def repair_of(case: Case, reference: Reference) -> tuple[CarFaults, RepairDraws]:
    lookup = Lookup(reference)
    streams, prices = Streams(case.seed, case.draws), PriceList.of(case, lookup)
    car = car_faults(case, streams, lookup)
    return car, repair(case, car, streams, prices, lookup)


def with_findings(case: Case, *findings: dict[str, Any]) -> Case:
    raw = case.model_dump(mode="json")
    return Case.model_validate(raw | {"findings": [*raw["findings"], *findings]})


@pytest.fixture(scope="module")
def cars(reference: Reference) -> list[tuple[Case, CarFaults]]:
    """Return random cars with their faults."""
    generator = np.random.default_rng(14)
    every = [random_car(generator, reference) for _ in range(CARS)]
    return [(case, faults_of(case, reference)) for case in every]


def test_chances_are_chances_and_draws_are_whole(cars: list[tuple[Case, CarFaults]]) -> None:
    for _, car in cars:
        assert all(0 <= one <= 1 + ROUNDING for one in car.chances.values())
        assert all(
            -ROUNDING <= car.behind[one] <= car.chances[one] + ROUNDING for one in car.behind
        )
        assert 0 < car.care.mean < 20
        for name, rows in car.hidden.items():
            assert not (rows & car.shows.get(name, np.zeros_like(rows))).any() or (
                name not in {one for sign in car.seen.signs for one in sign.links if sign.findings}
            )
        for sign in car.seen.signs:
            rows = [car.shows[one] for one in sign.links if one in car.shows]
            unexplained = ~np.logical_or.reduce([car.otherwise[sign.name], *rows])
            assert sign.nothing or not unexplained.any()


def test_a_fine_area_never_raises_what_nobody_has_found(
    cars: list[tuple[Case, CarFaults]], reference: Reference
) -> None:
    """An area in which no fault is behind a sign; one that is hands its sign to its rivals."""
    generator = np.random.default_rng(4)
    for case, before in cars[::5]:
        free = [
            one.area
            for one in before.doubts
            if not any(before.faults[name].area is one.area for name in before.behind)
            and not any(finding.area is one.area for finding in case.findings)
        ]
        if not free:
            continue
        area = free[int(generator.integers(len(free)))]
        fine = {"id": "fine", "area": area.value, "state": "fine", "look": "measured"}
        after = faults_of(with_findings(case, fine), reference)
        assert after.care.mean <= before.care.mean + ROUNDING
        for one, other in zip(before.doubts, after.doubts, strict=True):
            assert other.faults <= one.faults + ROUNDING
            assert other.chance <= one.chance + ROUNDING


def test_the_order_of_entry_changes_nothing(
    cars: list[tuple[Case, CarFaults]], reference: Reference
) -> None:
    for case, one in cars[::5]:
        turned = case.model_copy(update={"findings": case.findings[::-1]})
        other = faults_of(turned, reference)
        assert one.chances == other.chances
        assert one.single == other.single
        assert all((other.shows[name] == rows).all() for name, rows in one.shows.items())
        assert all((other.otherwise[name] == rows).all() for name, rows in one.otherwise.items())


def test_a_second_word_for_the_same_sign_moves_the_repair_by_little(reference: Reference) -> None:
    """By the mean repair, under 5 %; a word that tells less lands between the two alone."""
    generator = np.random.default_rng(6)
    known, tried = reference.diagnosing(), 0
    for name in generator.choice(sorted(known.symptoms), PRICED, replace=False).tolist():
        symptom = known.symptoms[name].model_copy(update={"phenomenon": "the same"})
        fainter = tuple(
            link.model_copy(update={"shows": LESS[link.shows] if at % 2 else link.shows})
            for at, link in enumerate(symptom.causes)
        )
        twin = symptom.model_copy(update={"id": "twin", "causes": fainter})
        same = symptom.model_copy(update={"id": "same"})
        symptoms = {**known.symptoms, name: symptom, "twin": twin, "same": same}
        own = replace(reference, diagnosing=lambda to=symptoms: replace(known, symptoms=to))
        base = {"area": symptom.area.value, "state": "faulty"}
        named = {word: base | {"id": word, "symptom": word} for word in (name, "twin", "same")}
        car = random_car(generator, own, findings=[], draws=DRAWS)
        if not faults_of(with_findings(car, named[name]), own).seen.signs:
            continue  # nothing on this car can show it
        tried += 1
        one, less, twice, both = (
            float(
                repair_of(with_findings(car, *(named[word] for word in words)), own)[
                    1
                ].total.money.mean()
            )
            for words in ([name], ["twin"], [name, "same"], [name, "twin"])
        )
        assert twice == pytest.approx(one, rel=0.05), name
        assert min(one, less) * 0.98 <= both <= max(one, less) * 1.02, name
    assert tried > PRICED / 2


NEARLY_CERTAIN = 0.9


def test_four_signs_of_a_fault_cost_little_more_than_the_fault(reference: Reference) -> None:
    """At most 1.3 times that fault alone, and the rest of a car that is kept as this one is."""
    vehicle = {
        "make": "Invented",
        "model": "One",
        "model_year": 2013,
        "odometer": {"value": 89_000, "unit": "mi"},
        "fuel": "gasoline",
        "transmission": "automatic",
    }
    generator = np.random.default_rng(3)
    base = random_car(generator, reference, findings=[], draws=DRAWS, vehicle=vehicle)
    _, rest = repair_of(base, reference)
    strong: dict[str, list[str]] = {}
    for symptom in reference.symptoms.values():
        for link in symptom.causes:
            if symptom.allows(base.vehicle) and link.shows in (Shows.ALWAYS, Shows.MOSTLY):
                strong.setdefault(link.cause, []).append(symptom.id)
    tried = 0
    for fault, names in sorted(strong.items()):
        if len(names) < FOUR:
            continue
        named = [
            {
                "id": name,
                "area": reference.symptoms[name].area.value,
                "state": "faulty",
                "symptom": name,
            }
            for name in names[:FOUR]
        ]
        car, four = repair_of(with_findings(base, *named), reference)
        if car.behind.get(fault, 0.0) > NEARLY_CERTAIN:  # others leave dear rivals beside it
            alone = four.cost_of(car.faults[fault])[0]
            most = 1.3 * alone + rest.total.money.mean() * car.care.mean
            assert four.total.money.mean() <= most, fault
            tried += 1
    assert tried >= 3
