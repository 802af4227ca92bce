"""Every file that a page gives has a plain name, whatever the car and its files are called.

What a plain name is, and that the function makes one of anything, is in safe/test_names_out.py.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import streamlit as st

from appraise.models.case import Case
from appraise.models.files import LONGEST_NAME, Attachment
from appraise.services import today
from ui.pages import PAGES, REPAIR_SECTIONS
from ui.session import cached

ROOT = Path(__file__).parents[2] / "ui"
MADE_BY = {"clean_name", "name_to_save"}
PLAIN = re.compile(r"[^-. /\\:<>\"|?*][^/\\:<>\"|?*]*\.(json|xlsx|pdf|jpg|png)")
DEVICE = re.compile(r"(?i)(con|prn|aux|nul|(com|lpt)[0-9]) *(\.|$)")
"""Windows documentation, "Naming Files, Paths, and Namespaces"."""
IDS = ("con", "aux.1..", "a" * 80)
"""As hostile as an id may be."""
NAMES = ("-rf.pdf", "CON", "nul.tar.pdf", '<b>"a|b?*', "🚗" * LONGEST_NAME, "x. ", "--", "- .pdf")


def buttons(path: Path) -> list[ast.Call]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        one
        for one in ast.walk(tree)
        if isinstance(one, ast.Call) and getattr(one.func, "attr", "") == "download_button"
    ]


def test_every_button_takes_its_name_from_what_makes_plain_ones() -> None:
    """Also one that nobody has thought of here."""
    found = {
        f"{path.name}:{one.lineno}": next(
            (each.value for each in one.keywords if each.arg == "file_name"), None
        )
        for path in sorted(ROOT.rglob("*.py"))
        for one in buttons(path)
    }
    assert len(found) >= 5
    assert [
        place
        for place, name in found.items()
        if not (isinstance(name, ast.Call) and getattr(name.func, "id", "") in MADE_BY)
    ] == []


@pytest.fixture
def given(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """Return the names of all files that pages offer, every fold of a page open."""
    found: set[str] = set()
    button: Callable[..., Any] = st.download_button
    fold: Callable[..., Any] = st.expander

    def spy(*words: Any, **more: Any) -> bool:
        found.add(more["file_name"])
        return bool(button(*words, **more))

    monkeypatch.setattr(st, "download_button", spy)
    monkeypatch.setattr(st, "expander", lambda *words, **more: fold(*words, **more | OPEN))
    return found


OPEN = {"expanded": True}


def with_files(case: Case) -> Case:
    """Return a car, its first paper with files of names that a model lets in."""
    workspace = cached.workspace()
    files = []
    for at, name in enumerate(NAMES):
        content = b"%PDF-1.4\n" + bytes([at])
        digest = workspace.files.put(content, "application/pdf", None)
        files.append(
            Attachment(
                id=digest,
                name=name,
                media_type="application/pdf",
                size=len(content),
                added_on=today(),
            )
        )
    paper = case.papers[0].model_copy(update={"attachments": tuple(files)})
    return case.model_copy(update={"papers": (paper, *case.papers[1:])})


@pytest.mark.parametrize("car_id", IDS)
def test_no_page_gives_a_file_of_another_name(screens: Any, given: set[str], car_id: str) -> None:
    """An owned car, and one on offer with papers."""
    screens.add(screens.kept("wagon-half-repaired").model_copy(update={"id": car_id}))
    for page in PAGES:
        assert not screens.window(page, car_id).exception
    for section in REPAIR_SECTIONS:
        window = screens.window("repair", car_id)
        window.session_state["section"] = section
        assert not window.run().exception
    offered = with_files(screens.kept("auction-engine-light"))
    screens.add(offered.model_copy(update={"id": f"{car_id[:78]}.b"}))
    for page in PAGES:
        window = screens.window(page, f"{car_id[:78]}.b")
        assert not window.exception
        if page == "papers":
            window.button(key=f"paper:{offered.papers[0].id}").click().run()
    endings = {one.rpartition(".")[2] for one in given}

    assert {"json", "xlsx", "pdf"} <= endings
    assert sum(car_id[:78] in one for one in given) > 20
    assert [one for one in given if not PLAIN.fullmatch(one) or DEVICE.match(one)] == []
    assert [one for one in given if len(one.encode()) > 255 or not one.isprintable()] == []
    assert sum("🚗" in one for one in given) == 1
