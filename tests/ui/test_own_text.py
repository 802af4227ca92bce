"""What a person typed appears as text: no HTML, no Markdown, no link, no color comes of it."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from appraise.models.findings import Area, Cause, Finding, State
from ui.words import plain

Bare = Callable[[str], str]

CAR = "auction-engine-light"
TEXTS = (
    "<img src=x onerror=alert(1)>",
    "**bold** _slanted_ `code`",
    "[a link](http://example.org)",
    ":red[warning] $x^2$ ~~gone~~",
    "# heading | cell",
)
SPEAKING = ("markdown", "caption", "error", "warning", "info", "success", "title", "subheader")


def unescaped(text: str) -> set[str]:
    """Return the marks that would act: those without a backslash before them."""
    return set(re.sub(r"\\.", "", text)) & set("<>*_`[]$~#|")


def speaking(window: AppTest, text: str, bare: Bare) -> list[str]:
    """Return what is said that holds the text, also on buttons, folds and in their help."""
    every = [str(one.value) for kind in SPEAKING for one in window.get(kind)]
    every += [one.label for kind in ("button", "expander") for one in window.get(kind)]
    every += [one.help for one in window.button]
    return [one for one in every if text in bare(one)]


@pytest.mark.parametrize("text", TEXTS)
def test_text_made_harmless_has_no_mark_left_that_acts(text: str, bare: Bare) -> None:
    assert unescaped(plain(text)) == set()
    assert "http://" not in plain(text)
    assert bare(plain(text)) == text


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("name", ["cars", "inspect", "prices", "bid", "diagnose"])
def test_a_title_a_label_and_a_cause_appear_as_text(
    screens: Any, bare: Bare, text: str, name: str
) -> None:
    case = screens.kept(CAR)
    finding = Finding(
        id="odd",
        area=Area.FRAME_AND_BODY,
        state=State.SUSPECT,
        label=text,
        causes=(Cause(id="why", label=text, chance=Decimal("0.5")),),
        note=text,
    )
    car = case.vehicle.model_copy(update={"make": text, "model": text})
    more = {"title": text, "story": text, "vehicle": car, "findings": (*case.findings, finding)}
    screens.put(case.model_copy(update=more))
    window = screens.window(name, CAR)

    assert not window.exception
    found = speaking(window, text, bare)
    assert found
    for one in found:
        rest = one.replace(plain(text), "")
        assert text not in bare(rest), one
    assert not [one for one in window.get("markdown") if one.allow_html]


def test_a_removed_finding_s_label_appears_as_text(screens: Any, bare: Bare) -> None:
    text = TEXTS[0]
    case = screens.kept(CAR)
    finding = Finding(id="odd", area=Area.FRAME_AND_BODY, state=State.FAULTY, label=text)
    screens.put(case.model_copy(update={"findings": (*case.findings, finding)}))
    window = screens.window("inspect", CAR)
    window.button(key="drop:odd").click().run()

    (told,) = speaking(window, f"Removed: {text}", bare)
    assert told == plain(f"Removed: {text}")


def test_a_venue_s_name_appears_as_text(screens: Any, button: Any) -> None:
    text = TEXTS[2]
    window = screens.window("settings")
    next(one for one in window.text_input if one.label == "New venue").set_value(text)
    button(window, "Add the venue").click().run()

    assert plain(text) in [one.label for one in window.get("expander")]
