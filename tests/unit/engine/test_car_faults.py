"""One car's faults: what was seen of it, in chances and in draws."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from small_catalog import check, codes, fault, small_catalog, symptom

from appraise.engine.catalog.values import Lookup
from appraise.engine.draws.streams import Streams
from appraise.engine.faults.car import CarFaults, car_faults
from appraise.errors import BadCase
from appraise.models.case import Case
from appraise.models.findings import Area
from appraise.reference.load import Reference

DRAWS = 20_000
ERRORS = 4.5
"""Standard errors of a share of draws; exceeded by chance alone 7 times in a million."""
ALONE = 0.01
"""What a chance said of one sign alone may be off by: the sign's own share of cars."""

DISC, PAD, HOSE, SEAL = "disc", "pad", "hose", "seal"
SIGNS = (
    fault(DISC, 20, "job-disc"),
    fault(PAD, 30, "job-pad"),
    fault(HOSE, 10, "job-hose"),
    fault(SEAL, 10, "job-seal", area="engine"),
    fault("rest", 900, "job-rest"),
    fault("others", 900, "job-rest", area="engine"),
    symptom("shudder", disc=(0.5, "mostly"), pad=(0.3, "sometimes")),
    symptom("squeal", disc=(0.3, "often"), pad=(0.6, "mostly")),
    symptom("shake", phenomenon="shudder", disc=(0.6, "mostly"), pad=(0.2, "sometimes")),
    symptom("soft", hose=(0.5, "mostly"), seal=(0.2, "often")),
    codes("wheel", "C0035", hose=(0.6, "mostly")),
    check("look", (1, 0), disc=(0.1, 0.9)),
    check("gauge", (0.9, 0.1), seal=(0.2, 0.8)),
    symptom("only", pad=(0.9, "mostly")),
    check("never", (1, 0), pad=(0, 1)),
    check("clear", (0, 1), disc=(1, 0)),
)
ERROR = ERRORS * 0.5 / np.sqrt(DRAWS)

Faults = Callable[..., CarFaults]


@pytest.fixture(scope="module")
def faults(case_of: Callable[..., Case], job: Callable[..., Any], reference: Reference) -> Faults:
    """Return the faults of a car with findings, on the catalog above."""
    own = small_catalog(reference, *SIGNS)
    jobs = [job(f"job-{name}", parts=[100]) for name in (DISC, PAD, HOSE, SEAL, "rest")]

    def run(*findings: dict[str, Any], **more: Any) -> CarFaults:
        case = case_of(findings, jobs, draws=DRAWS, **more)
        lookup = Lookup(own)
        return car_faults(case, Streams(case.seed, case.draws), lookup)

    return run


def sign(name: str, area: str = "brakes", **more: Any) -> dict[str, Any]:
    return {"id": f"has-{name}", "area": area, "state": "faulty", "symptom": name, **more}


def result(name: str, outcome: str = "bad") -> dict[str, str]:
    return {"check": name, "outcome": outcome}


def fine(area: str = "brakes", look: str = "measured") -> dict[str, Any]:
    return {"id": f"fine-{area}", "area": area, "state": "fine", "look": look}


def draws_of(car: CarFaults, name: str) -> float:
    rows = car.there(name)
    return 0.0 if rows is None else float(rows.mean())


def test_a_car_that_nobody_saw_hides_each_fault_with_its_own_chance(faults: Faults) -> None:
    """Poisson counts of an area and kinds by share come to each kind by itself."""
    car = faults()

    for name, one in car.faults.items():
        chance = float(car.care.before @ car.care.has(one.rate))
        assert draws_of(car, name) == pytest.approx(chance, abs=ERROR)
    assert car.behind == {}
    assert car.single == 0
    for doubt in car.doubts:
        assert doubt.chance == pytest.approx(doubt.before)
        assert doubt.look is None
        rate = sum(one.rate for one in car.faults.values() if one.area is doubt.area)
        assert doubt.faults == pytest.approx(rate)
        rows = [rows for name, rows in car.hidden.items() if car.faults[name].area is doubt.area]
        assert np.logical_or.reduce(rows).mean() == pytest.approx(doubt.chance, abs=ERROR)


def test_draws_have_the_chances_of_all_that_was_seen(faults: Faults) -> None:
    car = faults(sign("shudder"), sign("squeal"), sign("soft"), results=[result("gauge")])

    assert set(car.chances) == {DISC, PAD, HOSE, SEAL}
    for name, chance in car.chances.items():
        assert draws_of(car, name) == pytest.approx(chance, abs=ERROR)
        assert car.shows[name].mean() == pytest.approx(car.behind[name], abs=ERROR)
        if name in car.hidden:
            assert not (car.shows[name] & car.hidden[name]).any()


def test_one_sign_alone_has_the_shares_of_its_words_and_something_else_the_rest(
    faults: Faults,
) -> None:
    """The leak is set so that what the shares leave, .2 of .8 and .2, is something else's."""
    car = faults(sign("shudder"))

    assert car.otherwise["shudder"].mean() == pytest.approx(0.2, abs=ERROR + ALONE)
    assert car.behind[DISC] / car.behind[PAD] == pytest.approx(
        (car.faults[DISC].rate * 0.8) / (car.faults[PAD].rate * 0.2), rel=0.05
    )


def test_more_signs_of_one_fault_leave_its_rivals_nothing_to_explain(faults: Faults) -> None:
    one, both = faults(sign("shudder")), faults(sign("shudder"), sign("squeal"))

    assert both.behind[DISC] > one.behind[DISC]
    assert both.otherwise["shudder"].mean() < one.otherwise["shudder"].mean()
    assert 0 < both.single < 1


@pytest.mark.parametrize("chance", ["0.05", "0.3", "0.5", "0.9"])
def test_a_suspect_keeps_the_chance_said_where_it_is_alone(faults: Faults, chance: str) -> None:
    """By the sign's own chance on any car, exactly, so to a draw's error and no more."""
    car = faults(sign("shudder", state="suspect", chance=chance))
    real = car.otherwise["shudder"] | car.shows[DISC] | car.shows[PAD]

    assert real.mean() == pytest.approx(float(chance), abs=ERROR)


def test_a_suspect_less_likely_than_on_any_car_says_nothing(faults: Faults) -> None:
    car, unseen = faults(sign("shudder", state="suspect", chance="0")), faults()

    for name in (DISC, PAD):
        assert draws_of(car, name) == pytest.approx(draws_of(unseen, name), abs=2 * ERROR)


def test_two_words_for_one_phenomenon_count_once(faults: Faults) -> None:
    one, both = faults(sign("shudder")), faults(sign("shudder"), sign("shake"))

    assert [sign.name for sign in both.seen.signs] == ["shudder"]
    assert both.seen.signs[0].labels == ("Shake", "Shudder")
    assert both.behind[DISC] == pytest.approx(one.behind[DISC], abs=0.1)


def test_absent_symptoms_speak_against_and_two_words_for_one_once(faults: Faults) -> None:
    """By hand: no shudder leaves (1 - .8) of the discs, no shudder and no shake the same."""
    none, one = faults(sign("squeal")), faults(sign("squeal"), not_seen=["shudder"])
    both = faults(sign("squeal"), not_seen=["shudder", "shake"])

    assert one.behind[DISC] < none.behind[DISC]
    assert [speaks.factor for speaks in one.seen.speaks[DISC]] == pytest.approx([0.2])
    assert [speaks.factor for speaks in both.seen.speaks[DISC]] == pytest.approx([0.2])
    assert faults(sign("squeal"), not_seen=["unheard"]).chances == none.chances


def test_a_fine_area_lowers_what_it_hides_and_how_badly_the_car_was_kept(faults: Faults) -> None:
    unseen, seen = faults(), faults(fine())
    before, after = (
        {doubt.area: doubt for doubt in car.doubts}[Area.BRAKES] for car in (unseen, seen)
    )

    assert after.chance < before.chance == pytest.approx(after.before)
    assert after.look is not None
    assert seen.care.mean < 1 == pytest.approx(unseen.care.mean)
    assert draws_of(seen, "others") < draws_of(unseen, "others")


def test_a_fine_area_speaks_of_faults_that_a_result_speaks_of_too(faults: Faults) -> None:
    """A fault behind the result of a check alone was left out of the look before."""
    result_only = faults(results=[result("gauge")])
    looked_at = faults(fine("engine"), results=[result("gauge")])

    assert looked_at.chances[SEAL] < 0.7 * result_only.chances[SEAL]


def test_a_fault_that_a_check_shows_is_had_in_its_draws(faults: Faults) -> None:
    """A fault that the result of a check alone shows was in no finding and in no area before."""
    car = faults(results=[result("look")])

    assert car.chances[DISC] == pytest.approx(1)
    assert car.hidden[DISC].all()
    doubt = next(one for one in car.doubts if one.area is Area.BRAKES)
    assert {one.id: count for one, count in doubt.kinds}[DISC] == pytest.approx(1)
    assert doubt.chance == pytest.approx(1)
    assert car.single == 0


def test_a_result_that_a_persons_own_cause_explains_is_not_explained_again(
    faults: Faults,
) -> None:
    own = {
        "id": "mine",
        "area": "brakes",
        "state": "faulty",
        "causes": [{"id": SEAL, "label": "Seal", "chance": "1", "jobs": [{"job": "job-seal"}]}],
    }
    car = faults(own, results=[result("gauge")])

    assert draws_of(car, SEAL) == pytest.approx(draws_of(faults(own), SEAL), abs=2 * ERROR)


@pytest.mark.parametrize("true", [DISC, HOSE])
def test_what_a_finding_turned_out_to_be_explains_its_sign(faults: Faults, true: str) -> None:
    """Whether the catalog links the fault to that sign or not."""
    car = faults(sign("shudder", truth={"fault": True, "cause": true}))

    assert car.chances[true] == pytest.approx(1)
    assert car.shows[true].all()
    assert true not in car.hidden
    assert car.behind[PAD] < 0.1 < faults(sign("shudder")).behind[PAD]
    assert car.otherwise["shudder"].mean() < 0.1


def test_a_finding_that_was_nothing_is_no_sign(faults: Faults) -> None:
    car = faults(sign("shudder", truth={"fault": False}))

    assert car.seen.signs == []
    assert car.behind == {}


def test_a_proved_fault_that_a_result_excludes_stays_proved(faults: Faults) -> None:
    car = faults(
        sign("squeal", truth={"fault": True, "cause": PAD}), results=[result("never", "good")]
    )

    assert car.chances[PAD] == pytest.approx(1)
    assert all(np.isfinite(chance) for chance in car.chances.values())


def test_papers_move_the_fault_wherever_it_shows(faults: Faults) -> None:
    paper = {
        "id": "paid",
        "kind": "invoice",
        "lines": [{"label": "Discs", "kind": "part"}, {"label": "Labor", "kind": "labor"}],
        "claims": [{"finding": "has-shudder", "causes": [DISC], "claimed": "replaced"}],
    }
    plain = faults(sign("shudder"), sign("squeal"))
    with_paper = faults(sign("shudder"), sign("squeal"), papers=[paper])

    assert with_paper.behind[DISC] < plain.behind[DISC]
    assert with_paper.behind[PAD] > plain.behind[PAD]
    (speaks,) = with_paper.seen.speaks[DISC]
    assert speaks.factor < 1


def test_results_that_contradict_are_told_and_the_rest_stands(faults: Faults) -> None:
    """Nothing but a disc gives 'look: bad', and with a disc 'clear' is never bad."""
    car = faults(sign("soft"), results=[result("look"), result("clear")])
    alone, without = faults(results=[result("look")]), faults(sign("soft"))

    (problem,) = car.problems
    assert problem.message.startswith("Look: bad: nothing can give this together")
    assert alone.chances[DISC] == pytest.approx(1)
    assert car.chances[DISC] == 0
    assert car.behind[HOSE] == pytest.approx(without.behind[HOSE], abs=0.02)  # but for care


def test_a_sign_that_no_fault_is_left_for_is_told(faults: Faults) -> None:
    """The one fault behind it is excluded: it is priced as something else, and said so."""
    car = faults(sign("only"), results=[result("never", "good")])

    assert [one.where for one in car.problems] == ["finding.has-only"]
    assert car.otherwise["only"].all()


@pytest.mark.parametrize(
    ("given", "words"), [(("ball", "good"), "no check 'ball'"), (("look", "odd"), "'odd'")]
)
def test_an_unknown_check_or_outcome_is_refused_by_name(
    faults: Faults, given: tuple[str, str], words: str
) -> None:
    with pytest.raises(BadCase, match=words):
        faults(results=[result(*given)])


def test_a_sign_of_one_group_moves_no_draw_of_another_but_by_care(faults: Faults) -> None:
    """Where care is as it was, the same draws have the same faults."""
    one, more = faults(sign("shudder")), faults(sign("shudder"), sign("soft"))
    moved = {name: (one.shows[name] != more.shows[name]).mean() for name in (DISC, PAD)}

    assert max(moved.values()) < 0.02 + abs(one.care.mean - more.care.mean)
    assert one.care.mean < more.care.mean


def test_the_order_of_entry_changes_nothing(faults: Faults) -> None:
    entered = [
        sign("shudder"),
        sign("squeal", state="suspect", chance="0.4"),
        sign("shake"),
        sign("soft"),
        {"id": "own", "area": "brakes", "state": "suspect", "chance": "0.3", "jobs": []},
        {"id": "own-2", "area": "brakes", "state": "suspect", "chance": "0.7", "jobs": []},
    ]
    one, other = faults(*entered), faults(*reversed(entered))

    assert one.chances == other.chances
    assert one.care.now.tolist() == other.care.now.tolist()
    for part in ("shows", "hidden", "otherwise"):
        mine, theirs = getattr(one, part), getattr(other, part)
        assert mine.keys() == theirs.keys()
        assert all((mine[name] == theirs[name]).all() for name in mine)
