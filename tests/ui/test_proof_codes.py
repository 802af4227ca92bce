"""The car's answers as proof of a job: right after its codes were cleared, and after a drive."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.work import PlannedJob, Stage
from appraise.services import changed
from appraise.services.ownership.working import add_job
from ui.session import cached

CAR = "farm-truck-owned"
JOB = "front-pads"
CLEARED = "41 01 00 07 E5 E5\n43 00\n47 00\n4A 00\n41 30 00\n41 31 00 00"
"""Right after a clear: monitors open, no warm-up, no distance."""


def planned(screens: Any, **proof: Any) -> Case:
    case = add_job(
        changed(screens.kept(CAR), ("work",), {}), "brakes.front_pads", cached.reference()
    )
    kept: Case = screens.put(changed(case, ("work", "jobs", JOB, "proof"), proof))
    return kept


def opened(screens: Any) -> AppTest:
    """Return the page with the one job opened at its codes."""
    window: AppTest = screens.window("test", CAR)
    window.button(key=f"prove:{JOB}").click().run()
    window.session_state[f"proof-boxes:{JOB}"] = "Codes"
    window.run()
    assert not window.exception
    return window


@pytest.fixture
def window(screens: Any) -> AppTest:
    planned(screens)
    return opened(screens)


def job(screens: Any) -> PlannedJob:
    (found,) = screens.kept(CAR).work.jobs
    return found  # type: ignore[no-any-return]


@pytest.fixture
def answer(widget: Any) -> Callable[..., AppTest]:
    def go(window: AppTest, **given: str) -> AppTest:
        for field, text in given.items():
            kind = "text_input" if field == "codes" else "text_area"
            end = f"prove.{JOB}.codes:{field.replace('_', '-')}"
            widget(window, kind, end).set_value(text)
        widget(window, "button", f"prove.{JOB}.codes:go").click().run()
        assert not window.exception
        return window

    return go


def test_answers_are_kept_in_two_steps_and_judged_once_both_are_there(
    screens: Any, window: AppTest, answer: Any, said: Any
) -> None:
    """Every monitor complete, driven far: what mode 01 says by SAE J1979."""
    answer(window, codes="P0420", at_clear=CLEARED)
    assert "the car's answers after the drive are missing" in said(window)
    driven = "41 01 00 07 E5 00\n43 00\n47 00\n4A 00\n41 30 20\n41 31 01 40"
    answer(window, answers=driven)

    kept = job(screens).proof.code
    assert kept is not None
    assert (kept.codes, kept.at_clear, kept.answers) == (("P0420",), CLEARED, driven)
    assert ":material/check: **passes**: P0420" in said(window)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"codes": "P0G99", "answers": CLEARED}, "is not a digit of a code"),
        ({"codes": "", "answers": CLEARED}, "Say which codes"),
        ({"codes": "P0420", "answers": "hello there"}, "no answer that can be read"),
        ({"codes": "P0420", "at_clear": "nothing"}, "no answer that can be read"),
    ],
)
def test_what_cannot_be_read_is_said_and_stays(
    screens: Any, window: AppTest, answer: Any, widget: Any, bare: Any, given: Any, words: str
) -> None:
    version = screens.version(CAR)
    answer(window, **given)

    assert words in bare(window.error[0].value)
    assert screens.version(CAR) == version
    for field, text in given.items():
        kind = "text_input" if field == "codes" else "text_area"
        end = f"prove.{JOB}.codes:{field.replace('_', '-')}"
        assert widget(window, kind, end).value == text


def test_answers_in_the_store_that_cannot_be_read_cannot_tell_and_stop_nothing(
    screens: Any, button: Any, said: Any, bare: Any
) -> None:
    planned(screens, code={"codes": ["P0420"], "answers": "no answer at all"})
    window = opened(screens)
    assert "cannot tell" in said(window)
    button(window, "Done").click().run()

    assert not window.exception
    assert "cannot be read" in bare(window.error[-1].value)
    assert job(screens).stage is Stage.PLANNED


def test_codes_and_answers_are_removed_and_come_back(
    screens: Any, window: AppTest, answer: Any
) -> None:
    answer(window, codes="P0420", at_clear=CLEARED)
    window.button(key=f"unprove:{JOB}:answers").click().run()
    assert job(screens).proof.code is None
    window.button(key="undo-button").click().run()

    assert job(screens).proof.code is not None
