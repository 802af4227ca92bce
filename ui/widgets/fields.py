"""Model field to widget: label, bounds and help come from the model, the value from the case."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any, get_args

import streamlit as st
from pydantic import BaseModel

from appraise.models.case import Case
from appraise.models.preferences import Preferences
from appraise.models.ranges import Range
from ui.session import state
from ui.widgets.picking import pick_several
from ui.widgets.typed import number
from ui.words import name, plain

__all__ = [
    "amount",
    "choice",
    "day",
    "flag",
    "note",
    "optional_range",
    "percent",
    "pick",
    "several",
    "share",
    "text",
    "whole",
]

Step = str | int
Save = Callable[[Sequence[Step], str, Callable[[Any], Any]], None]


def _root(owner: str) -> tuple[type[BaseModel], BaseModel, Save]:
    if owner == "case":
        return Case, state.case(), state.edit
    return Preferences, state.shown_preferences(), state.edit_preferences


def _described(model: type[BaseModel], path: Sequence[Step]) -> str:
    """Return the description that the model gives a field; it is also its label."""
    here: Any = model
    found = ""
    for step in path:
        if isinstance(step, int) or not hasattr(here, "model_fields"):
            return found
        field = here.model_fields[step]
        found = field.description or str(step)
        inner = [field.annotation, *get_args(field.annotation)]
        here = next(
            (one for one in inner if isinstance(one, type) and issubclass(one, BaseModel)), None
        )
    return found


def _optional(model: type[BaseModel], path: Sequence[Step]) -> bool:
    """Whether the model lets a field be empty."""
    here: Any = model
    found = False
    for step in path:
        if isinstance(step, int) or not hasattr(here, "model_fields"):
            return False
        annotation = here.model_fields[step].annotation
        found = type(None) in get_args(annotation)
        inner = [annotation, *get_args(annotation)]
        here = next(
            (one for one in inner if isinstance(one, type) and issubclass(one, BaseModel)), None
        )
    return found


def _value(document: BaseModel, path: Sequence[Step]) -> Any:  # noqa: ANN401
    here: Any = document
    for step in path:
        if here is None:
            return None
        if isinstance(here, (list, tuple)):
            here = (
                next(one for one in here if one.id == step) if isinstance(step, str) else here[step]
            )
        else:
            here = getattr(here, str(step))
    return here


class Field:
    """One field of the open car, or of the preferences, as a widget needs it."""

    def __init__(self, path: Sequence[Step], owner: str, label: str | None) -> None:
        model, document, save = _root(owner)
        self.path = tuple(path)
        self.save = save
        self.label = label or _described(model, path)
        self.value = _value(document, path)
        self.key = (f"{owner}:" if owner != "case" else "") + state.key_for(path)
        state.bind(self.key)

    def wiring(self, convert: Callable[[Any], Any]) -> dict[str, Any]:
        """Return the keyword arguments that every widget takes."""
        return {
            "label": self.label,
            "key": self.key,
            "on_change": self.save,
            "args": (self.path, self.key, convert),
        }

    def fault(self) -> None:
        """Say beside the field what is wrong with what was typed."""
        message = state.error_at(self.key)
        if message:
            st.caption(f":red[:material/error: {plain(message)}]")


def _decimal(digits: int) -> Callable[[Any], Any]:
    def convert(given: float | None) -> Decimal | None:
        return None if given is None else Decimal(f"{given:.{digits}f}")

    return convert


def _seed(key: str, value: float | None) -> None:
    """Start a number's widget from the case; a widget with a value of its own cannot be emptied."""
    if key not in st.session_state:
        st.session_state[key] = value


def amount(
    *path: Step,
    owner: str = "case",
    label: str | None = None,
    step: float = 50.0,
    digits: int = 0,
    low: float | None = 0.0,
    help: str | None = None,  # noqa: A002 - as the widget calls it
) -> None:
    """Show an amount of money, hours or distance."""
    field = Field(path, owner, label)
    optional = _optional(_root(owner)[0], path)
    if optional:
        _seed(field.key, None if field.value is None else float(field.value))
    st.number_input(
        value=None if optional else float(field.value),
        min_value=low,
        step=step,
        format=f"%.{digits}f",
        help=help,
        **field.wiring(_decimal(max(digits, 2))),
    )
    field.fault()


def whole(*path: Step, owner: str = "case", label: str | None = None) -> None:
    """Show a whole number that may be missing."""
    field = Field(path, owner, label)
    _seed(field.key, None if field.value is None else int(field.value))
    st.number_input(
        value=None,
        step=1,
        format="%d",
        **field.wiring(lambda given: None if given is None else int(given)),
    )
    field.fault()


def day(*path: Step, owner: str = "case", label: str | None = None) -> None:
    """Show a day."""
    field = Field(path, owner, label)
    st.date_input(
        value=field.value,
        min_value=date(1900, 1, 1),
        max_value=date(2100, 12, 31),
        **field.wiring(lambda given: given),
    )
    field.fault()


def percent(*path: Step, owner: str = "case", label: str | None = None) -> None:
    """Show a percentage as it is stored, 0 to 100."""
    amount(*path, owner=owner, label=label, step=0.5, digits=2)


def share(
    *path: Step,
    owner: str = "case",
    label: str | None = None,
    low: int = 50,
    high: int = 99,
    help: str | None = None,  # noqa: A002
) -> None:
    """Show a chance in [0, 1] as a slider in percent."""
    field = Field(path, owner, label)
    st.slider(
        min_value=low,
        max_value=high,
        value=min(high, max(low, round(float(field.value) * 100))),
        format="%d%%",
        help=help,
        **field.wiring(lambda given: Decimal(given) / 100),
    )
    field.fault()


def text(
    *path: Step,
    owner: str = "case",
    label: str | None = None,
    placeholder: str | None = None,
    most: int = 200,
) -> None:
    """Show a line of text."""
    field = Field(path, owner, label)
    st.text_input(
        value=field.value, max_chars=most, placeholder=placeholder, **field.wiring(lambda one: one)
    )
    field.fault()


def note(*path: Step, owner: str = "case", label: str | None = None) -> None:
    """Show a longer note."""
    field = Field(path, owner, label)
    st.text_area(value=field.value, max_chars=20_000, **field.wiring(lambda one: one))
    field.fault()


def flag(*path: Step, owner: str = "case", label: str | None = None) -> None:
    """Show a yes or no."""
    field = Field(path, owner, label)
    st.toggle(value=field.value, **field.wiring(lambda one: one))
    field.fault()


def choice(
    options: Sequence[Any],
    *path: Step,
    owner: str = "case",
    label: str | None = None,
    words: Mapping[Any, str] | None = None,
    empty: str = "",
) -> None:
    """Show one of a list of words.

    Parameters
    ----------
    empty : what the field says where it may be left empty.
    """
    field = Field(path, owner, label)
    named = {**(words or {}), **({None: empty} if empty else {})}
    listed = [*((None,) if empty else ()), *options]
    st.selectbox(
        options=listed,
        index=listed.index(field.value) if field.value in listed else None,
        format_func=lambda one: named.get(one, name(one)),
        **field.wiring(lambda one: one),
    )
    field.fault()


def optional_range(
    *path: Step,
    owner: str = "case",
    label: str | None = None,
    usual: str = "",
    default: Range | None = None,
) -> None:
    """Show low, likely, high of a range that may be left to its default."""
    field = Field(path, owner, label)
    places = ("low", "likely", "high")
    keys = [f"{field.key}.{place}" for place in places]

    def convert(_: object) -> dict[str, Any] | None:
        given = [st.session_state[key] for key in keys]
        if all(one is None for one in given):
            return None
        known = [one for one in given if one is not None]
        filled = [known[0] if one is None else one for one in given]
        new: dict[str, Any] = {
            place: number(one, getattr(field.value, place, None), 4)
            for place, one in zip(places, filled, strict=True)
        }
        return new if field.value is None else {**new, "reads_as": field.value.reads_as}

    st.markdown(field.label, help=f"Leave all three empty for the default{usual}.")
    with st.container(horizontal=True):
        for place, key in zip(places, keys, strict=True):
            _seed(key, None if field.value is None else float(getattr(field.value, place)))
            st.number_input(
                place.capitalize(),
                value=None,
                min_value=0.0,
                placeholder="default" if default is None else f"{getattr(default, place)}",
                key=key,
                width=140,
                on_change=_save_range,
                args=(field, keys, key, convert),
            )
    given = [st.session_state[key] for key in keys]
    if None in given and any(one is not None for one in given):
        st.caption(":red[:material/error: Not saved yet: enter low, likely and high.]")
    field.fault()


def _save_range(field: Field, keys: list[str], key: str, convert: Callable[[Any], Any]) -> None:
    """Save a range once all three numbers are there, or none is."""
    given = [st.session_state[one] for one in keys]
    if any(one is None for one in given) and any(one is not None for one in given):
        return
    st.session_state.setdefault(field.key, st.session_state[key])
    field.save(field.path, field.key, convert)


def pick(
    options: Sequence[str], *path: Step, owner: str = "case", label: str | None = None
) -> None:
    """Show one of a few plain words."""
    field = Field(path, owner, label)
    st.selectbox(
        options=list(options),
        index=list(options).index(field.value),
        **field.wiring(lambda one: one),
    )
    field.fault()


def several(
    options: Mapping[str, str], *path: Step, owner: str = "case", label: str | None = None
) -> None:
    """Show any of a list, by id with its name."""
    field = Field(path, owner, label)
    wiring = field.wiring(lambda one: one)
    pick_several(names=options, chosen=field.value, placeholder="none", **wiring)
    field.fault()
