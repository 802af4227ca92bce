"""What the first page needs is ready before anybody asks for it, whatever the store is like."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from typing import Any

import pytest

from appraise import services
from appraise.errors import StoreUnavailable
from appraise.models.appraisal import Appraisal
from appraise.services import example_cases
from ui import warming
from ui.session import cached


@pytest.fixture(autouse=True)
def at_once(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(warming, "AFTER", 0.0)
    cached._appraisal.clear()
    yield
    gc.unfreeze()


@pytest.fixture
def worked_out(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the cars that are worked out from now on, each time that one is."""
    found: list[str] = []
    real = services.appraise_case

    def noted(case: Any, *rest: Any) -> Appraisal:
        found.append(case.id)
        return real(case, *rest)

    monkeypatch.setattr(services, "appraise_case", noted)
    return found


def test_the_list_finds_every_car_worked_out(screens: Any, worked_out: list[str]) -> None:
    sys.setswitchinterval(warming.TURNS)
    warming.warm()
    assert sys.getswitchinterval() == pytest.approx(0.005)  # Python's own
    assert sorted(worked_out) == sorted(one.id for one in example_cases())

    worked_out.clear()
    window = screens.window("cars")

    assert worked_out == []
    shown = [one.value for one in window.markdown]
    assert sum("Walk-away price" in one for one in shown) >= 3
    assert "…" not in shown


def test_no_more_cars_than_the_first_page_shows(screens: Any, worked_out: list[str]) -> None:
    assert screens.folder
    cached.first_cars(2)

    assert len(worked_out) == 2


def test_a_store_that_does_not_open_is_left_to_the_page(
    screens: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as moved:
        moved.setenv("APPRAISE_DATABASE_URL", f"sqlite:///{screens.folder}")  # a folder, no file
        warming.warm()
        with pytest.raises(StoreUnavailable):
            cached.workspace()

    assert gc.isenabled()


def test_own_values_that_cannot_be_read_are_left_to_the_page(screens: Any) -> None:
    screens.own().save("not = [toml")
    warming.warm()

    assert not screens.window("cars").exception
    assert gc.isenabled()


def test_nobody_needs_to_be_signed_in_for_it_and_nobody_sees_a_car_by_it(
    screens: Any, worked_out: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as asked:
        asked.setenv("APPRAISE_SIGN_IN", "people")
        warming.warm()
        window = screens.window("cars")

    assert worked_out
    assert [one.label for one in window.text_input] == ["Name", "Password"]
    assert not any("Walk-away" in one.value for one in window.markdown)


def test_whatever_goes_wrong_the_program_runs_on_as_usual(
    screens: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken() -> None:
        raise OSError("the disk is gone")

    assert screens.folder
    monkeypatch.setattr(cached, "what_stays", broken)
    sys.setswitchinterval(warming.TURNS)
    with pytest.raises(OSError, match="the disk is gone"):
        warming.warm()

    assert gc.isenabled()
    assert sys.getswitchinterval() == pytest.approx(0.005)  # Python's own
