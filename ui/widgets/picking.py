"""Several of a list, so that the next press counts and one key never takes a whole list."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import streamlit as st

__all__ = ["pick_several"]

Item = TypeVar("Item")


def pick_several(
    label: str,
    names: Mapping[Item, str],
    chosen: Iterable[Item] = (),
    *,
    key: str,
    placeholder: str,
    **more: Any,  # noqa: ANN401 - what the widget takes besides
) -> list[Item]:
    """Show a list of which any number can be chosen; return what is.

    What is chosen stays on one row: a field that gives a row back when it is left moves the button
    below it from under the finger, and that press is lost. No entry takes all that match: it would
    stand first in the list, where Enter after a few typed letters takes it.

    Parameters
    ----------
    names : what can be chosen, with its name.
    chosen : what is chosen to begin with; what is not in the list is left out.
    """
    return st.multiselect(
        label,
        list(names),
        [one for one in chosen if one in names],
        format_func=lambda one: names[one],
        placeholder=placeholder,
        key=key,
        wrap=False,
        select_all=False,
        **more,
    )
