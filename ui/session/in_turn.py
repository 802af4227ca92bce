"""What a window asks for is done whole and once: the next waits until the page has answered.

As soon as its window asks for the next run of a page, Streamlit stops the present one where it next
shows something or looks at the session: also in the middle of what a press is for. What was typed
was in the store then while the window still held what had been there before, or the press was
lost. So nothing that a window sends reaches the page before the answer to the last is drawn. A
second press of the same button until then is the same press; one of a button that the answer no
longer shows is none, and the page says so.
"""

from __future__ import annotations

import asyncio
from contextlib import suppress

from starlette.types import ASGIApp, Message, Receive, Scope, Send
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

__all__ = ["GONE", "InTurn"]

GONE = "gone"
"""In the address of a run: what was pressed was not on the page any more, and nothing was done."""

ANOTHER_RUN_FOLLOWS = ForwardMsg.FINISHED_EARLY_FOR_RERUN
LONGEST_ANSWER = 60.0
"""Seconds after which a page that has not answered is disturbed; an estimate of ours."""


class InTurn:
    """Lets each window of an app ask for one thing after the other."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on; what a window says, in its turn."""
        if scope["type"] == "websocket":
            window = _Window(receive, send)
            receive, send = window.receive, window.send
        await self._app(scope, receive, send)


class _Window:
    """What a window asks for, and what it is shown."""

    def __init__(self, receive: Receive, send: Send) -> None:
        self._receive, self._send = receive, send
        self._answered = asyncio.Event()
        self._answered.set()
        self._pressed: set[str] = set()
        self._shown: set[str] = set()

    async def receive(self) -> Message:
        """Return what the window says next, once the page has answered what it said before.

        That it was closed, too: what it asked for last is done to its end.
        """
        message = await self._receive()
        said, pressed = _read(message)
        while pressed and pressed <= self._pressed and not self._answered.is_set():
            message = await self._receive()
            said, pressed = _read(message)
        with suppress(TimeoutError):
            await asyncio.wait_for(self._answered.wait(), LONGEST_ANSWER)
        if not said.HasField("rerun_script"):
            return message
        self._answered.clear()
        self._pressed = pressed
        gone = pressed - self._shown if self._shown else set()
        if not gone:
            return message
        widgets = said.rerun_script.widget_states.widgets
        left = [one for one in widgets if one.id not in gone]
        del widgets[:]
        widgets.extend(left)
        address = said.rerun_script.query_string
        said.rerun_script.query_string = f"{address}&{GONE}=1".lstrip("&")
        return {**message, "bytes": said.SerializeToString()}

    async def send(self, message: Message) -> None:
        """Pass on what the window is shown; the page is not told that nobody sees it any more."""
        with suppress(OSError):
            await self._send(message)
        told = ForwardMsg.FromString(message.get("bytes") or b"")
        kind = told.WhichOneof("type")
        if kind == "new_session":
            self._shown = set()
        elif kind == "delta":
            element = told.delta.new_element
            what = element.WhichOneof("type")
            if what is not None:
                self._shown.add(getattr(getattr(element, what), "id", ""))
        elif kind == "script_finished" and told.script_finished != ANOTHER_RUN_FOLLOWS:
            self._answered.set()


def _read(message: Message) -> tuple[BackMsg, set[str]]:
    """Return what a window says, and which buttons are pressed by it."""
    said = BackMsg.FromString(message.get("bytes") or b"")
    widgets = said.rerun_script.widget_states.widgets
    return said, {one.id for one in widgets if one.trigger_value}
