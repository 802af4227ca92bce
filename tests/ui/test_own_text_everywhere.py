"""Every free text of a car, hostile at once, on every page: nothing of it acts.

What each page hands to the browser is gone through, letter for letter: whatever is not known to be
shown as it stands has to be escaped. Spreadsheets are tested in
unit/services/test_tables_hostile.py, the parts list on paper in unit/reports/test_paper.py.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Iterator
from typing import Any

import pytest
import streamlit as st
import tomli_w
from pydantic import ValidationError
from streamlit.testing.v1 import AppTest

from appraise.models.case import Case
from appraise.models.preferences import Preferences
from appraise.services.records.own_values import own_entry
from ui.pages import PAGES, REPAIR_SECTIONS
from ui.plots import bid as charts
from ui.session import cached
from ui.words import APART, plain

MARK = "zqx"
LONG = (
    "<b>zqx</b> **q** [l](http://e.example) :red[c] :smile: &lt;i&gt; `k` $x$ WWW.e.example "
    "a@e.example ~~s~~ -> | # ! %{x} :material/home: <a href='//e'>a</a>"
)
TEXTS = (
    LONG,
    "<b>zqx</b> **q** [l](//e) :red[c] `k` $x$ | # ~~s~~ &lt;",
    "<b>zqx</b>*_`[:$|",
)
"""The first that a field has room for."""
AS_IT_STANDS = {
    "Code.code_text",
    "Dataframe.arrow_data.data",
    "Dataframe.columns",
    "MultiSelect.options",
    "MultiSelect.default",
    "PlotlyChart.alt",
    "Selectbox.options",
    "TextArea.default",
    "TextArea.value",
    "TextInput.default",
    "TextInput.value",
}
"""What the browser shows letter for letter; Markdown is read in all else."""


def leaves(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], str]]:
    """Yield each text of a document with the way to it."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from leaves(inner, (*path, key))
    elif isinstance(value, list):
        for place, inner in enumerate(value):
            yield from leaves(inner, (*path, place))
    elif isinstance(value, str):
        yield path, value


def put(document: Any, path: tuple[Any, ...], text: str) -> None:
    for step in path[:-1]:
        document = document[step]
    document[path[-1]] = text


def hostile(case: Case) -> tuple[Case, list[tuple[Any, ...]]]:
    """Return the case with every text that may be anything made hostile, and the ways to them."""
    document = json.loads(case.model_dump_json())
    changed = []
    for path, before in list(leaves(document)):
        for text in TEXTS:
            put(document, path, text)
            try:
                Case.model_validate(document)
            except ValidationError:
                put(document, path, before)
            else:
                changed.append(path)
                break
    return Case.model_validate(document), changed


def strings(message: Any, path: str) -> Iterator[tuple[str, str]]:
    """Yield each text of what is sent to the browser, with its place."""
    for field, value in message.ListFields():
        place = f"{path}.{field.name}"
        inner = value.values() if hasattr(value, "values") else value
        for one in [inner] if isinstance(inner, (str, bytes)) else _each(inner):
            if hasattr(one, "ListFields"):
                yield from strings(one, place)
            elif isinstance(one, bytes):
                yield place, one.decode("utf-8", "replace")
            elif isinstance(one, str):
                yield place, one


def _each(value: Any) -> list[Any]:
    return list(value) if hasattr(value, "__iter__") else [value]


def sent(window: AppTest) -> Iterator[tuple[str, str]]:
    """Yield each text that a window's browser gets, with the kind of element and its field."""
    waiting = [window._tree]
    while waiting:
        one: Any = waiting.pop()
        proto = getattr(one, "proto", None)
        if proto is not None:
            yield from strings(proto, proto.DESCRIPTOR.name)
        waiting += list(getattr(one, "children", {}).values())


def acts(text: str) -> list[str]:
    """Return what would act in a text that is read as Markdown."""
    found = sorted(set(re.sub(r"\\.", "", text)) & set("<&`$|#"))
    bare = re.sub(r"\\([^\w\s])", r"\1", text)
    patterns = (r"(?i)https?:", r"(?i)www\.", r"\w@\w", r":smile:", r":material/home:", r"\s->")
    found += [one for one in patterns if re.search(one, bare)]
    unescaped = re.sub(r"\\.", "\0", text)
    found += [one for one in (r"\*\*q", r":red\[c", r"\[l\]", r"~~s") if re.search(one, unescaped)]
    return found


def acts_in_chart(spec: str) -> list[str]:
    """Return the texts of a chart that it would take for orders."""
    texts = [text for _, text in leaves(json.loads(spec)) if MARK in text]
    return [one for one in texts if re.search(r"<b>|<a|%\{x", one)]


class Seen:
    """What was sent to the browser that holds hostile text."""

    def __init__(self) -> None:
        self.places: set[str] = set()
        self.wrong: list[str] = []

    def look(self, window: AppTest, where: str) -> None:
        """Go through what a window shows."""
        assert not window.exception, where
        for place, text in sent(window):
            if MARK not in text:
                continue
            self.places.add(place)
            if place == "PlotlyChart.spec":
                found = acts_in_chart(text)
            else:
                found = [] if place in AS_IT_STANDS else acts(text)
            if found:
                self.wrong.append(f"{where}, {place}: {found} in {text[:300]}")


@pytest.fixture
def unfolded(monkeypatch: pytest.MonkeyPatch) -> None:
    """Open every fold of every page."""
    fold: Callable[..., Any] = st.expander
    monkeypatch.setattr(st, "expander", lambda *given, **more: fold(*given, **more | OPEN))


OPEN = {"expanded": True}


def test_the_sample_acts_where_it_is_not_escaped() -> None:
    """So that a page that passes has been looked at."""
    for text in TEXTS:
        assert acts(text)
        assert acts(plain(text)) == []
        assert plain(text).replace("\\", "").replace(APART, "") == text
    assert acts_in_chart(json.dumps({"data": [{"y": [TEXTS[0]]}]}))
    assert not acts_in_chart(json.dumps({"data": [{"y": [charts.drawn(TEXTS[0])]}]}))


@pytest.mark.usefixtures("unfolded")
@pytest.mark.parametrize("car", ["farm-truck-owned", "auction-engine-light"])
def test_no_text_of_a_car_acts_on_any_page(screens: Any, car: str) -> None:
    case, changed = hostile(screens.kept(car))
    assert len(changed) > 40
    screens.put(case)
    seen = Seen()
    window = screens.window("cars", car)
    for page in PAGES:
        seen.look(screens.turn(window, page), page)

    assert seen.wrong == []
    assert {"Markdown.body", "Button.help", "PlotlyChart.spec"} <= seen.places


OWNED, OFFERED = "farm-truck-owned", "auction-engine-light"
PRESSED = [
    (OFFERED, "papers", ""),
    (OFFERED, "inspect", ""),
    (OWNED, "test", ""),
    *((OWNED, "repair", one) for one in REPAIR_SECTIONS),
]


@pytest.mark.usefixtures("unfolded")
@pytest.mark.parametrize(("car", "name", "section"), PRESSED)
def test_no_text_of_a_car_acts_in_what_a_button_opens_or_says(
    screens: Any, car: str, name: str, section: str
) -> None:
    """One button of each kind is pressed: forms open, things are removed and can be undone."""
    case, _ = hostile(screens.kept(car))
    screens.put(case)
    window = screens.window(name, case.id)
    if section:
        window.session_state["section"] = section
        window.run()
    seen = Seen()
    seen.look(window, section)
    for label, key in sorted({one.label: one.key for one in reversed(window.button)}.items()):
        if any(one.key == key for one in window.button):
            seen.look(window.button(key=key).click().run(), f"{section}, {label}")

    assert seen.wrong == []
    assert seen.places


@pytest.mark.usefixtures("unfolded")
def test_what_is_typed_wrong_is_said_as_it_was_typed(screens: Any, widget: Any) -> None:
    window = screens.window("inspect", "auction-engine-light")
    widget(window, "text_input", ":currency").set_value("<b>").run()
    said = [one.value for one in window.caption if "\\<b\\>" in one.value]

    assert said
    assert not [one.value for one in window.caption if "<b>" in one.value]


@pytest.mark.usefixtures("unfolded")
def test_no_name_of_a_venue_or_fee_acts(screens: Any) -> None:
    fees = [{"name": TEXTS[0], "steps": [{"starts_at": 0}]}]
    raw = {"venues": [{"name": TEXTS[0], "fees": fees}], "deal": {"fees": fees}}
    mine = Preferences.model_validate(raw)
    store = cached.workspace().preferences
    screens.window("settings")
    store.save(mine, store.load().version)
    seen = Seen()
    seen.look(screens.window("settings"), "settings")

    assert seen.wrong == []
    assert "Expandable.label" in seen.places


@pytest.mark.usefixtures("unfolded")
def test_no_label_of_ones_own_values_acts(screens: Any) -> None:
    """All labels, notes and words of the catalog replaced by a file that somebody sent."""
    reference, text = cached.reference(), TEXTS[1]
    both = {"label": text, "note": text}
    of_values = [tomllib.loads(own_entry(reference, one))["value"][0] for one in reference.values]
    tables = {
        "value": [one | both for one in of_values],
        "area": [{"id": one.value, "label": text, "look_for": text} for one in reference.areas],
        "caution": [{"id": one, "work": text, "text": text} for one in reference.cautions],
        "limit": [{"id": one, "label": text, "how": text} for one in reference.limits],
        "job": [{"id": one} | both for one in reference.jobs],
    }
    for name in ("causes", "symptoms", "checks", "tools"):
        ids = getattr(reference, name)
        tables[name.removesuffix("s")] = [{"id": one, "label": text} for one in ids]
    screens.own().save(tomli_w.dumps(tables))
    seen = Seen()
    for car in ("farm-truck-owned", "auction-engine-light"):
        window = screens.window("cars", car)
        for page in PAGES:
            seen.look(screens.turn(window, page), page)

    assert seen.wrong == []
    assert "Markdown.body" in seen.places


@pytest.mark.parametrize("name", ["car", "section", "look-boxes", "x"])
def test_nothing_in_the_address_of_a_page_acts(screens: Any, name: str) -> None:
    for page in ("inspect", "repair", "cars"):
        window = screens.window(page, "farm-truck-owned")
        window.query_params[name] = TEXTS[0] + "/../../x"
        seen = Seen()
        seen.look(window.run(), page)

        assert seen.wrong == []
