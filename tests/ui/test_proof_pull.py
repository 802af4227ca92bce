"""A logged pull as proof of a job: from two logs over each other, or its averages typed."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.work import PlannedJob
from appraise.services import changed
from appraise.services.ownership.working import add_job
from ui.session import cached

CAR = "farm-truck-owned"
JOB = "front-pads"


@pytest.fixture
def window(screens: Any) -> AppTest:
    """Return the page with one job planned, and opened at its logged pull."""
    case = changed(screens.kept(CAR), ("work",), {})
    screens.put(add_job(case, "brakes.front_pads", cached.reference()))
    opened: AppTest = screens.window("test", CAR)
    opened.button(key=f"prove:{JOB}").click().run()
    opened.session_state[f"proof-boxes:{JOB}"] = "Logged pull"
    opened.run()
    assert not opened.exception
    return opened


def job(screens: Any) -> PlannedJob:
    (found,) = screens.kept(CAR).work.jobs
    return found  # type: ignore[no-any-return]


def log(boost: float, baro: float | None = 100.0, pedal: str = "Pedal (%)") -> bytes:
    """Return a log of one full-load pull from 2,000 to 4,000 rpm in 5 s at an even boost, kPa."""
    air = 100.0 if baro is None else baro
    head = f"Time (s),{pedal},Engine speed (rpm),MAP (kPa)"
    lines = [head if baro is None else f"{head},Baro (kPa)"]
    for at in range(101):
        share = at / 100
        row = f"{share * 5:.2f},100,{2000 + 2000 * share:.0f},{air + boost:.1f}"
        lines.append(row if baro is None else f"{row},{air}")
    return "\n".join(lines).encode()


@pytest.fixture
def upload(widget: Any) -> Callable[..., AppTest]:
    def go(window: AppTest, **logs: bytes) -> AppTest:
        for which, data in logs.items():
            box = widget(window, "file_uploader", f"prove.{JOB}.pull:{which}:file")
            box.set_value((f"{which}.csv", data, "text/csv"))
        window.run()
        assert not window.exception
        return window

    return go


def test_two_logs_give_averages_over_the_air_outside_and_an_overlay(
    screens: Any, window: AppTest, upload: Any, widget: Any, button: Any, said: Any
) -> None:
    """Manifold less barometer: 30 kPa before at one barometer, 80 after at another."""
    upload(window, before=log(30.0, 98.0), after=log(80.0, 101.0))
    end = f"prove.{JOB}.pull"
    widget(window, "selectbox", f"{end}:in").set_value("kPa").run()
    assert "On average 30.0 kPa before, 80.0 kPa after." in said(window)
    assert len(window.get("plotly_chart")) == 1

    widget(window, "number_input", f"{end}:low").set_value(70.0)
    widget(window, "number_input", f"{end}:high").set_value(90.0)
    button(window, "Keep these averages").click().run()
    assert not window.exception
    kept = job(screens).proof.pull
    assert kept is not None
    assert (kept.unit, kept.before, kept.after, kept.low, kept.high) == (
        "kPa",
        Decimal(30),
        Decimal(80),
        Decimal(70),
        Decimal(90),
    )
    assert "80 kPa on a logged pull, 30 before; target 70 to 90" in said(window)


def test_pressure_is_shown_in_another_unit(
    window: AppTest, upload: Any, widget: Any, said: Any
) -> None:
    """1 psi = 6.894757 kPa (NIST SP 811, appendix B.8): 80 kPa are 11.6 psi."""
    upload(window, after=log(80.0))
    widget(window, "selectbox", f"prove.{JOB}.pull:in").set_value("psi").run()

    assert "On average 11.6 psi after." in said(window)
    assert not window.get("plotly_chart")


def test_without_a_barometer_the_height_of_the_place_counts(
    window: AppTest, upload: Any, widget: Any, said: Any
) -> None:
    """ISO 2533: 89.9 kPa at 1,000 m, so 100 + 80 absolute is 90.1 over it."""
    upload(window, after=log(80.0, None))
    end = f"prove.{JOB}.pull"
    assert "sea level, an estimate" in said(window)
    widget(window, "number_input", f"{end}:height").set_value(1000.0)
    widget(window, "selectbox", f"{end}:in").set_value("kPa").run()

    assert "On average 90.1 kPa after." in said(window)


def test_any_column_can_be_compared(window: AppTest, upload: Any, widget: Any, said: Any) -> None:
    upload(window, after=log(80.0, 97.5))
    box = widget(window, "selectbox", f"prove.{JOB}.pull:column")
    assert "Baro (kPa)" in box.options
    box.set_value("baro_kpa").run()
    widget(window, "selectbox", f"prove.{JOB}.pull:in").set_value("kPa").run()

    assert "On average 97.5 kPa after." in said(window)


def test_a_log_without_a_pull_says_why_and_learns_which_column_is_the_pedal(
    window: AppTest, upload: Any, widget: Any, button: Any, said: Any
) -> None:
    upload(window, after=log(80.0, pedal="Foot (%)"))
    assert "neither pedal nor throttle" in said(window)
    end = f"prove.{JOB}.pull:after"
    widget(window, "selectbox", f"{end}:heading").set_value("Foot (%)")
    widget(window, "selectbox", f"{end}:name").set_value("pedal_pct")
    button(window, "Remember it").click().run()

    assert not window.exception
    assert "On average" in said(window)


def test_a_log_stays_while_another_way_is_looked_at(
    window: AppTest, upload: Any, widget: Any, said: Any
) -> None:
    """A field for a file is empty when it comes back."""
    upload(window, after=log(80.0))
    end = f"prove.{JOB}.pull"
    widget(window, "number_input", f"{end}:low").set_value(9.0).run()
    for box in ("Codes", "Logged pull"):
        window.session_state[f"proof-boxes:{JOB}"] = box
        window.run()

    assert not window.exception
    assert "On average 11.6 psi after." in said(window)
    assert widget(window, "number_input", f"{end}:low").value == 9.0


def test_a_log_taken_away_is_forgotten(
    window: AppTest, upload: Any, widget: Any, said: Any
) -> None:
    upload(window, after=log(80.0))
    widget(window, "file_uploader", f"prove.{JOB}.pull:after:file").set_value(None).run()

    assert not window.exception
    assert "On average" not in said(window)


def test_what_is_no_log_is_said(window: AppTest, upload: Any, bare: Any) -> None:
    upload(window, after=b"%PDF-1.7 nothing")

    assert "this is a PDF, not a CSV" in bare(window.error[0].value)


def by_hand(window: AppTest, widget: Any, button: Any, **given: Any) -> AppTest:
    end = f"prove.{JOB}.pull"
    widget(window, "button_group", f"{end}:how").set_value("By hand").run()
    for field, value in given.items():
        kind = "text_input" if field in ("quantity", "unit") else "number_input"
        widget(window, kind, f"{end}:{field}").set_value(value)
    button(window, "Keep these averages").click().run()
    assert not window.exception
    return window


TYPED: dict[str, Any] = {
    "quantity": "Boost",
    "unit": "psi",
    "before": 4.0,
    "after": 9.0,
    "low": 10.0,
    "high": 12.0,
}


def test_averages_are_typed_and_judged(
    screens: Any, window: AppTest, widget: Any, button: Any, said: Any
) -> None:
    by_hand(window, widget, button, **TYPED)

    kept = job(screens).proof.pull
    assert kept is not None
    assert (kept.quantity, kept.after) == ("Boost", Decimal(9))
    assert ":material/close: **fails**: Boost: 9 psi" in said(window)
    window.button(key=f"unprove:{JOB}:pull").click().run()
    assert job(screens).proof.pull is None


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"after": None}, "the average after, and both ends"),
        ({"quantity": " "}, "Enter what was logged"),
        ({"low": 20.0}, "The target begins at 20, above its end 12"),
    ],
)
def test_averages_that_cannot_be_are_refused_and_stay_typed(
    screens: Any, window: AppTest, widget: Any, button: Any, bare: Any, wrong: Any, words: str
) -> None:
    by_hand(window, widget, button, **TYPED | wrong)

    assert words in bare(window.error[0].value)
    assert job(screens).proof.pull is None
    for field, value in (TYPED | wrong).items():
        kind = "text_input" if field in ("quantity", "unit") else "number_input"
        assert widget(window, kind, f"prove.{JOB}.pull:{field}").value == value


def test_when_another_window_saved_meanwhile_both_versions_wait_for_the_choice(
    screens: Any, window: AppTest, widget: Any, button: Any
) -> None:
    end = f"prove.{JOB}.pull"
    widget(window, "button_group", f"{end}:how").set_value("By hand").run()
    for field, value in TYPED.items():
        kind = "text_input" if field in ("quantity", "unit") else "number_input"
        widget(window, kind, f"{end}:{field}").set_value(value)
    screens.put(changed(screens.kept(CAR), ("note",), "seen by another"))
    button(window, "Keep these averages").click().run()

    assert not window.exception
    assert job(screens).proof.pull is None
    assert any("saved in another window" in one.value for one in window.warning)
    button(window, "Keep mine instead").click().run()
    kept = job(screens).proof.pull
    assert kept is not None
    assert kept.after == 9
