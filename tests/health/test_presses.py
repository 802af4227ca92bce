"""No page acts on what a button returns: another press, made in time, takes that away unseen."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

UI = Path(__file__).parents[2] / "ui"
BUTTONS = {"button", "form_submit_button", "chat_input"}
"""What returns whether it was pressed, or what was sent; `download_button` does nothing here."""


def acted_on(text: str) -> Iterator[int]:
    """Yield the lines in which something is done with what a button returns."""
    tree = ast.parse(text)
    bare = {id(one.value) for one in ast.walk(tree) if isinstance(one, ast.Expr)}
    for one in ast.walk(tree):
        if not isinstance(one, ast.Call) or id(one) in bare:
            continue
        if isinstance(one.func, ast.Attribute) and one.func.attr in BUTTONS:
            yield one.lineno


@pytest.mark.parametrize("path", sorted(UI.rglob("*.py")), ids=lambda one: one.name)
def test_no_page_acts_on_what_a_button_returns(path: Path) -> None:
    assert list(acted_on(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    "line",
    [
        "if st.button('Save'): save()",
        "pressed = row.form_submit_button('Save')",
        "keep(st.button('Save', key='a') and ready)",
        "words = st.chat_input()",
    ],
)
def test_it_would_be_seen(line: str) -> None:
    assert list(acted_on(line)) == [1]


@pytest.mark.parametrize(
    "line", ["st.button('Save', on_click=save)", "with press(st.button, 'Save', 'a') as it: go(it)"]
)
def test_and_what_is_right_is_not(line: str) -> None:
    assert list(acted_on(line)) == []
