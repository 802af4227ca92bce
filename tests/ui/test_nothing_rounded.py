"""What is not touched in a form stays to its last digit, though the form shows it rounded."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.deal import FeeSchedule, FeeStep
from appraise.models.findings import Area, Cause, Finding, JobChoice, State
from appraise.models.jobs import DoneBy
from appraise.models.papers import Paper, PaperKind
from appraise.models.ranges import Range
from appraise.models.vehicle import Distance
from appraise.services import changed

CAR = "auction-engine-light"
OWNED = "farm-truck-owned"
AREA = Area.BRAKES
THIRD = Decimal("0.333333333333")
"""In as many digits as a number may have."""
EIGHTH = Decimal("0.125")
FINE = Range(
    low=Decimal("0.12345"),
    likely=Decimal("0.23456"),
    high=Decimal("0.34567"),
    reads_as="bounds",
)
NOBODY_KNOWS = "own.of_another_catalog"


def with_finding(screens: Any, **fields: Any) -> Finding:
    case = screens.kept(CAR)
    finding = Finding(id="mine", area=AREA, label="Squeals", **fields)
    screens.put(case.model_copy(update={"findings": (*case.findings, finding)}))
    return finding


def note_of_the_finding(screens: Any, button: Any) -> Finding:
    """Change nothing but the note of the finding, and return what is kept of it."""
    window: AppTest = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    window.button(key="change:mine").click().run()
    next(one for one in window.text_area if str(one.key).endswith("mine:note")).set_value("seen")
    button(window, "Save").click().run()
    assert not window.exception
    found: Finding = next(one for one in screens.kept(CAR).findings if one.id == "mine")
    assert found.note == "seen"
    return found.model_copy(update={"note": ""})


def test_the_chance_of_a_finding(screens: Any, button: Any) -> None:
    before = with_finding(screens, state=State.SUSPECT, chance=EIGHTH)

    assert note_of_the_finding(screens, button) == before


def test_the_chances_of_causes(screens: Any, button: Any) -> None:
    causes = tuple(Cause(id=f"c{at}", label=f"Cause {at}", chance=THIRD) for at in range(3))
    before = with_finding(screens, state=State.SUSPECT, causes=causes)

    assert note_of_the_finding(screens, button) == before


def test_a_chance_that_is_typed_is_taken_as_typed(screens: Any, button: Any) -> None:
    with_finding(screens, state=State.SUSPECT, chance=EIGHTH)
    window: AppTest = screens.window("inspect", CAR)
    window.selectbox(key="area").set_value(AREA).run()
    window.button(key="change:mine").click().run()
    next(one for one in window.number_input if str(one.key).endswith("chance")).set_value(40)
    button(window, "Save").click().run()

    kept = next(one for one in screens.kept(CAR).findings if one.id == "mine")
    assert kept.chance == Decimal("0.4")


@pytest.mark.parametrize("under_a_cause", [False, True])
def test_jobs_that_the_list_does_not_hold(
    screens: Any, button: Any, *, under_a_cause: bool
) -> None:
    """Of another catalog, and the same job twice, once by each."""
    jobs = (
        JobChoice(job=NOBODY_KNOWS, hours=FINE),
        JobChoice(job="brakes.bleed", done_by=DoneBy.OWN_HANDS),
        JobChoice(job="brakes.bleed", done_by=DoneBy.SHOP),
    )
    cause = Cause(id="c", label="Cause", chance=EIGHTH, jobs=jobs)
    more: dict[str, Any] = {"causes": (cause,)} if under_a_cause else {"jobs": jobs}
    before = with_finding(screens, state=State.SUSPECT, **more)

    assert note_of_the_finding(screens, button) == before


def test_the_odometer_on_a_paper(screens: Any, button: Any) -> None:
    reading = Distance(value=Decimal("98765.43"), unit="km")
    paper = Paper(id="one", kind=PaperKind.INVOICE, odometer=reading)
    screens.put(screens.kept(CAR).model_copy(update={"papers": (paper,)}))
    window: AppTest = screens.window("papers", CAR)
    window.button(key="paper:one").click().run()
    next(one for one in window.text_area if str(one.key).endswith("one:note")).set_value("seen")
    button(window, "Save").click().run()

    assert screens.kept(CAR).papers == (paper.model_copy(update={"note": "seen"}),)


def put_deal(screens: Any, **changes: Any) -> Case:
    case = screens.kept(CAR)
    kept: Case = screens.put(case.model_copy(update={"deal": case.deal.model_copy(update=changes)}))
    return kept


def costs(screens: Any) -> AppTest:
    window: AppTest = screens.window("bid", CAR)
    window.session_state["costs"] = True
    return window.run()


def test_the_percents_of_fees(screens: Any, button: Any) -> None:
    steps = tuple(
        FeeStep(starts_at=Decimal(at), percent=Decimal(percent))
        for at, percent in ((0, "7.1234567"), (1000, "3.3333333"))
    )
    before = put_deal(screens, fees=(FeeSchedule(name="Premium", steps=steps),))
    window = costs(screens)
    button(window, "Save the fees").click().run()

    assert not window.exception
    assert screens.kept(CAR) == before


def test_the_odometers_of_comparable_cars(screens: Any, button: Any, key: Any, edits: Any) -> None:
    case = screens.kept(CAR)
    first = case.market.comparables[0]
    odd = first.model_copy(
        update={
            "odometer": Distance(value=Decimal("98765.43"), unit=case.vehicle.odometer.unit),
        }
    )
    rows = (odd, *case.market.comparables[1:])
    market = case.market.model_copy(update={"comparables": rows})
    screens.put(case.model_copy(update={"market": market}))
    window: AppTest = screens.window("prices", CAR)
    window.session_state[key(window, "comparables")] = edits({1: {"note": "seen"}})
    button(window, "Save the table").click().run()

    assert not window.exception
    kept = screens.kept(CAR).market.comparables
    assert kept[0] == odd
    assert kept[1].note == "seen"


def test_the_other_two_numbers_of_a_range(screens: Any, widget: Any) -> None:
    rate = Range(
        low=Decimal("100.00001"), likely=Decimal("110.00002"), high=Decimal(120), reads_as="bounds"
    )
    put_deal(screens, shop_rate=rate)
    window = costs(screens)
    widget(window, "number_input", "deal.shop_rate.high").set_value(130.0).run()

    assert not window.exception
    assert screens.kept(CAR).deal.shop_rate == rate.model_copy(update={"high": Decimal(130)})


def test_the_lines_of_breaking_it(screens: Any, button: Any) -> None:
    breaking = {
        "lines": [
            {"label": "Engine", "price": FINE.model_dump(), "chance": THIRD, "hours": "1.2345"}
        ],
        "scrap": "120",
        "days": 30,
    }
    before = screens.put(changed(screens.kept(OWNED), ("work", "breaking"), breaking))
    window: AppTest = screens.window("decide", OWNED)
    window.session_state["choose-breaking"] = True
    window.run()
    button(window, "Weigh parting it out").click().run()

    assert not window.exception
    assert screens.kept(OWNED) == before
