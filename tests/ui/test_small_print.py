"""What every screen says below, and the cautions where work is planned, measured or tried."""

from __future__ import annotations

from typing import Any

import pytest

from appraise.reports.cautions import cautions_ahead
from appraise.reports.wording import ESTIMATE
from appraise.services import reference_values
from ui.pages import PAGES
from ui.words import plain

HALF = "wagon-half-repaired"
REFERENCE = reference_values()


def captions(window: Any) -> str:
    return "\n".join(one.value for one in window.caption)


@pytest.mark.parametrize("page", PAGES)
def test_every_page_ends_with_who_decides(screens: Any, page: str) -> None:
    window = screens.window(page, HALF)

    assert not window.exception
    assert [one.value for one in window.caption].count(ESTIMATE) == 1
    assert window.caption[-1].value == ESTIMATE


def test_the_day_plan_carries_the_cautions_of_the_work_ahead(screens: Any) -> None:
    window = screens.window("repair", HALF)
    window.session_state["section"] = "Days"
    window.run()
    names = cautions_ahead(screens.kept(HALF), REFERENCE)

    assert names
    for name in names:
        assert plain(REFERENCE.cautions[name].text) in captions(window)


@pytest.mark.parametrize(
    ("area", "caution"),
    [("road_test", "road_test"), ("underside", "raised_car"), ("engine", "cranking_or_running")],
)
def test_an_area_where_one_can_be_hurt_says_so(screens: Any, area: str, caution: str) -> None:
    window = screens.window("inspect", HALF)
    window.session_state["area"] = type(screens.kept(HALF).findings[0].area)(area)
    window.run()

    assert not window.exception
    assert plain(REFERENCE.cautions[caution].text) in captions(window)


def test_a_measurement_and_a_drive_carry_their_cautions_on_the_proof_page(screens: Any) -> None:
    window = screens.window("test", HALF)
    window.button(key="prove:front-pads-and-rotors").click().run()
    limit = REFERENCE.limits["us_570.lining_bonded"]
    box = next(one for one in window.selectbox if one.label == "What was measured")
    box.set_value(limit.id).run()

    assert limit.cautions
    for name in limit.cautions:
        assert plain(REFERENCE.cautions[name].text) in captions(window)
    for tab in ("Codes", "Logged pull"):
        window.session_state["proof-boxes:front-pads-and-rotors"] = tab
        window.run()
        assert not window.exception
        assert plain(REFERENCE.cautions["road_test"].text) in captions(window)
