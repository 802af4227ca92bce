"""The page of the work, with what its tests do on it again and again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.work import PlannedJob
from appraise.services import changed
from appraise.services.ownership.working import plan_from_findings
from ui.session import cached

CAR = "farm-truck-owned"


@dataclass(frozen=True, slots=True)
class Desk:
    """The page of the work on a data folder of its own."""

    screens: Any
    unescaped: Callable[[str], str]

    def section(self, name: str, car: str = CAR, folds: tuple[str, ...] = ()) -> AppTest:
        """Open a section of the page, with folds open or not."""
        window: AppTest = self.screens.window("repair", car)
        window.session_state["section"] = name
        for fold in folds:
            window.session_state[fold] = True
        window.run()
        assert not window.exception
        return window

    def kept(self, car: str = CAR) -> Case:
        """Return the car as it is kept now."""
        found: Case = self.screens.kept(car)
        return found

    def bare(self, **work: Any) -> Case:
        """Keep the car with no work on it but what is given."""
        kept: Case = self.screens.put(changed(self.kept(), ("work",), work))
        return kept

    def planned(self) -> Case:
        """Keep the car with jobs planned from its findings and nothing done."""
        new = plan_from_findings(self.bare(), cached.reference()).case
        kept: Case = self.screens.put(new)
        return kept

    @staticmethod
    def job(case: Case, name: str) -> PlannedJob:
        """Return a planned job that has to be there."""
        found = case.work.job(name)
        assert found is not None
        return found

    @staticmethod
    def only(window: AppTest, kind: str, label: str) -> Any:
        """Return the one widget of a kind that says so."""
        found = [one for one in window.get(kind) if one.label == label]
        assert len(found) == 1, f"{len(found)} of {kind} say {label}"
        return found[0]

    def press(self, window: AppTest, label: str) -> AppTest:
        """Press the one button that says so."""
        self.only(window, "button", label).click()
        window.run()
        assert not window.exception
        return window

    @staticmethod
    def click(window: AppTest, key: str) -> AppTest:
        """Press the button of that key."""
        window.button(key=key).click().run()
        assert not window.exception
        return window

    def errors(self, window: AppTest) -> str:
        """Return what is said to be wrong, without escapes."""
        text: str = self.unescaped("\n".join(str(one.value) for one in window.error))
        return text


@pytest.fixture
def desk(screens: Any, bare: Callable[[str], str]) -> Desk:
    return Desk(screens, bare)
