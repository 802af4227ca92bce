"""What a press does is done whole and once, whatever is pressed right after it.

As soon as its window asks for the next run of a page, Streamlit stops the present one where it next
shows something or looks at the session: also in the middle of what a press is for. What was typed
was in the store then while the window still held what had been there before, or stood in its field
and was never saved. Here what a press does runs to its end before the next run begins. A second
press of the same button, before the page has answered the first or its window shows the answer, is
the same press.

Two things together do this: `runner.fastReruns` is off (`.streamlit/config.toml`), so that a
window's runs follow each other instead of going on side by side; and `install` lets a stop wait,
for which Streamlit has nothing public. So `pyproject.toml` holds it to the release that was tried;
before that is raised, `tests/ui/test_pressed_in_a_row.py` has to pass with the next one.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import Any

from cachetools import LRUCache
from streamlit.proto.WidgetStates_pb2 import WidgetStates
from streamlit.runtime.scriptrunner import ScriptRunner, get_script_run_ctx
from streamlit.runtime.state.safe_session_state import SafeSessionState

__all__ = ["install", "whole"]

MOST_WINDOWS = 4096
"""Beyond so many, the one that was used longest ago is forgotten."""

_begin, _end = SafeSessionState.on_script_will_rerun, SafeSessionState.on_script_finished


@dataclass(slots=True)
class _Window:
    """What a window shows.

    Attributes
    ----------
    taken : the buttons whose press was taken up since a page was last drawn as far as it goes.
    shown : what the page has, and what may still be there of the one before; empty if not known.
    ended : how the last run ended: True at its end, False because another was asked for, None in
        its middle (a page that asks for a password, or fails) or not yet.
    """

    taken: set[str] = field(default_factory=set)
    shown: frozenset[str] = frozenset()
    ended: bool | None = None


_windows: LRUCache[str, _Window] = LRUCache(MOST_WINDOWS)
_lock = Lock()


def _runner(state: object) -> ScriptRunner | None:
    """Return what runs the page that such a state is for."""
    found = getattr(getattr(state, "_yield_callback", None), "__self__", None)
    return found if isinstance(found, ScriptRunner) else None


@contextmanager
def _undisturbed(runner: ScriptRunner) -> Iterator[None]:
    """Let a stop wait."""
    before, runner._execing = runner._execing, False
    try:
        yield
    finally:
        runner._execing = before


@contextmanager
def whole() -> Iterator[None]:
    """Do what stands in the block to its end; `st.rerun` in it takes effect there."""
    context = get_script_run_ctx()
    runner = _runner(context.session_state) if context is not None else None
    if runner is None:
        yield
        return
    with _undisturbed(runner):
        yield
    runner._maybe_handle_execution_control_request()


def _window(runner: ScriptRunner) -> _Window:
    with _lock:
        found: _Window = _windows.setdefault(runner._session_id, _Window())
        return found


def _first_presses(pressed: WidgetStates, window: _Window) -> WidgetStates:
    """Leave out what is pressed a second time, and note what is pressed."""
    if window.ended is not False:
        window.taken.clear()
    if window.ended is None:
        window.shown = frozenset()
    window.ended = None
    out = WidgetStates()
    for one in pressed.widgets:
        if one.WhichOneof("value") == "trigger_value" and one.trigger_value:
            if one.id in window.taken or (window.shown and one.id not in window.shown):
                continue
            window.taken.add(one.id)
        out.widgets.append(one)
    return out


def _begin_whole(
    state: SafeSessionState,
    pressed: WidgetStates | None,
    **more: Any,  # noqa: ANN401 - passed on as it is
) -> None:
    """Take up what was pressed, and call what is to be done for it."""
    runner = _runner(state)
    if runner is None:
        _begin(state, pressed, **more)
        return
    first = None if pressed is None else _first_presses(pressed, _window(runner))
    with _undisturbed(runner):
        _begin(state, first, **more)


def _end_whole(state: SafeSessionState, widgets: frozenset[str], **more: bool) -> None:
    """Note what the page shows, and whether it was drawn to its end.

    Streamlit calls this also before the first run of a page, and says nothing of stale widgets
    then; it does not call it where a run ends in its middle.
    """
    runner, to_its_end = _runner(state), more.get("remove_stale_widgets")
    if runner is not None and to_its_end is not None:
        window = _window(runner)
        window.ended = to_its_end
        window.shown = widgets if to_its_end else window.shown | widgets
    _end(state, widgets, **more)


def install() -> None:
    """Make every press whole, for all windows of this process."""
    SafeSessionState.on_script_will_rerun = _begin_whole  # type: ignore[assignment]
    SafeSessionState.on_script_finished = _end_whole  # type: ignore[assignment]
