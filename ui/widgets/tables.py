"""Tables that are edited in place: what was typed into them and is not saved stays, and is told."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd
import streamlit as st

from ui.session import state

__all__ = ["edit_table", "forget_tables", "kept_or_handed_over", "unsaved_tables"]

TABLES, TURNS = "tables", "tables-dropped"
Name = tuple[Any, ...]
Rows = dict[Name, dict[str, Any]]


@dataclass(slots=True)
class _Table:
    """A table as it is shown, or was when its page was left.

    Attributes
    ----------
    kept : what is saved.
    begin : what the editor began with.
    edited : what it holds now; None where that is what is saved.
    by : columns that name a row; by its place where there are none.
    """

    key: str
    what: str
    page: state.Page
    by: tuple[str, ...]
    kept: pd.DataFrame
    begin: pd.DataFrame
    edited: pd.DataFrame | None = None


def edit_table(
    frame: pd.DataFrame,
    key: str,
    name: str,
    what: str,
    by: tuple[str, ...] = (),
    **look: Any,  # noqa: ANN401 - whatever a table takes
) -> pd.DataFrame:
    """Show a table to be edited; return what it holds, and tell what of it is not saved.

    What is not saved is there again when the page, or a new form of it, is come back to.

    Parameters
    ----------
    frame : the rows that are saved.
    key : of the widget.
    name : of the table, the same however often it is shown anew.
    what : it holds, in words; its alternative text.
    by : columns that name a row.
    """
    tables: dict[str, _Table] = st.session_state.setdefault(TABLES, {})
    turn = st.session_state.get(TURNS, {}).get(name)
    key = f"{key}:{turn}" if turn else key
    one = tables.get(name)
    if (
        one is None
        or one.key != key
        or key not in st.session_state
        or _rows(one.kept, by, one.kept) != _rows(frame, by, frame)
    ):
        begin = frame if one is None or one.edited is None else _carried(one, frame)
        one = tables[name] = _Table(key, what, state.shown_page(), by, frame, begin)
    edited = st.data_editor(
        one.begin,
        key=key,
        num_rows="dynamic",
        hide_index=True,
        alt=what,
        on_change=_note,
        args=(name,),
        **look,
    )
    count = _hold(one, edited)
    if count:
        rows = "1 unsaved row" if count == 1 else f"{count} unsaved rows"
        with st.container(horizontal=True, vertical_alignment="center", key=f"unsaved:{name}"):
            st.caption(f":material/edit: {rows}: kept here until you save, not counted before.")
            st.button(
                "Drop it" if count == 1 else "Drop them",
                key=f"drop:{name}",
                type="tertiary",
                on_click=_drop,
                args=(name,),
            )
    return edited


def kept_or_handed_over(name: str, *, saved: bool) -> bool:
    """Begin a table anew once it is saved, or waits in a clash for a choice; return `saved`."""
    if saved or state.clash() is not None:
        st.session_state.get(TABLES, {}).pop(name, None)
    return saved


def _drop(name: str) -> None:
    """Let a table begin anew from what is saved, under a key that the browser has no edits of."""
    st.session_state.get(TABLES, {}).pop(name, None)
    turns: dict[str, int] = st.session_state.setdefault(TURNS, {})
    turns[name] = turns.get(name, 0) + 1


def forget_tables(start: str) -> None:
    """Let the tables whose name begins so begin anew from what is saved."""
    tables: dict[str, _Table] = st.session_state.get(TABLES, {})
    for name in [one for one in tables if one.startswith(start)]:
        del tables[name]


def unsaved_tables() -> list[tuple[state.Page, str]]:
    """Return the pages with a table that holds rows not saved, and what that is."""
    tables: dict[str, _Table] = st.session_state.get(TABLES, {})
    return [(one.page, one.what) for one in tables.values() if one.edited is not None]


def _note(name: str) -> None:
    """Note what is typed at once: the page may be left before it is drawn again."""
    one: _Table = st.session_state[TABLES][name]
    _hold(one, _applied(one.begin, st.session_state[one.key]))


def _hold(one: _Table, edited: pd.DataFrame) -> int:
    """Note what a table holds; return how many of its rows are not saved."""
    before, now = _rows(one.kept, one.by, one.kept), _rows(edited, one.by, one.kept)
    count = sum(now.get(row) != before.get(row) for row in {**before, **now})
    one.edited = edited if count else None
    return count


def _rows(frame: pd.DataFrame, by: tuple[str, ...], kept: pd.DataFrame) -> Rows:
    """Return the rows of a table by name; empty ones are none."""
    out: Rows = {}
    for label, cells in zip(frame.index, frame.to_dict("records"), strict=True):
        row = {str(column): None if pd.isna(cell) else cell for column, cell in cells.items()}
        if all(cell is None for cell in row.values()):
            continue
        named = tuple(row[column] for column in by) if by else (label,)
        new = None in named if by else label not in kept.index
        out[("new", len(out)) if new else named] = row
    return out


def _carried(one: _Table, frame: pd.DataFrame) -> pd.DataFrame:
    """Return what is saved now with what was typed and is not."""
    assert one.edited is not None  # noqa: S101 - asked for only then
    before, fresh = _rows(one.kept, one.by, one.kept), _rows(frame, one.by, frame)
    if before == fresh:
        return one.edited
    now = _rows(one.edited, one.by, one.kept)
    rows = {
        name: now.get(name) if name in before and now.get(name) != before[name] else row
        for name, row in fresh.items()
    }
    more = [row for name, row in now.items() if name not in fresh and row != before.get(name)]
    left = [(name, row) for name, row in rows.items() if row is not None]
    labels = list(range(len(left))) if one.by else [name[0] for name, _ in left]
    free = max((*labels, len(fresh) - 1), default=-1) + 1
    labels += range(free, free + len(more))
    return _frame([*(row for _, row in left), *more], labels, frame)


def _applied(begin: pd.DataFrame, edits: Mapping[str, Any]) -> pd.DataFrame:
    """Return a table with what the browser says was changed, added and deleted."""
    rows: list[dict[Any, Any]] = [dict(row) for row in begin.to_dict("records")]
    for place, cells in edits["edited_rows"].items():
        rows[int(place)].update(cells)
    left = [place for place in range(len(rows)) if place not in set(edits["deleted_rows"])]
    labels = [int(begin.index[place]) for place in left]
    free = max((int(label) for label in begin.index), default=-1) + 1
    labels += range(free, free + len(edits["added_rows"]))
    return _frame([*(rows[place] for place in left), *edits["added_rows"]], labels, begin)


def _frame(
    rows: Sequence[Mapping[Any, Any]], labels: Sequence[int], like: pd.DataFrame
) -> pd.DataFrame:
    """Return rows as a table with columns of the kinds of another."""
    out = pd.DataFrame(list(rows), index=list(labels), columns=list(like.columns))
    for column, kind in like.dtypes.items():
        if pd.api.types.is_datetime64_any_dtype(kind):
            out[column] = pd.to_datetime(out[column])
        elif pd.api.types.is_bool_dtype(kind):
            out[column] = out[column].astype(object)
        elif pd.api.types.is_numeric_dtype(kind):
            whole = pd.api.types.is_extension_array_dtype(kind) or not out[column].isna().any()
            out[column] = pd.to_numeric(out[column]).astype(kind if whole else "float64")
    return out
