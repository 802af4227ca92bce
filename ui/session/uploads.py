"""Files are taken only from windows in which somebody is signed in, where people sign in."""

from __future__ import annotations

import re
from threading import Lock

from cachetools import TTLCache
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

__all__ = ["LONGEST", "WINDOWS", "OnlyFromPeople", "Windows"]

LONGEST = 12 * 3600.0
"""Seconds after which the password is asked for again."""
MOST_WINDOWS = 4096
"""Beyond so many the one seen longest ago has to be looked at again before it may send a file."""
UPLOAD = re.compile(r"/_stcore/upload_file/([^/]+)/[^/]+")


class Windows:
    """The windows in which somebody is signed in, by what the server calls them."""

    def __init__(self) -> None:
        self._found: TTLCache[str, bool] = TTLCache(MOST_WINDOWS, LONGEST)
        self._lock = Lock()

    def note(self, window: str, *, signed_in: bool) -> None:
        """Keep whether somebody is signed in there now."""
        with self._lock:
            if signed_in:
                self._found[window] = True
            else:
                self._found.pop(window, None)

    def __contains__(self, window: str) -> bool:
        """Whether somebody was signed in when that window was last looked at."""
        with self._lock:
            return window in self._found


WINDOWS = Windows()


class OnlyFromPeople:
    """Refuses what a window sends before anybody is signed in there.

    The server itself takes any number of files from every window that is open, and keeps them in
    memory: enough of them stop it for everybody.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] == "http" and scope["method"] not in ("GET", "HEAD", "OPTIONS"):
            path = UPLOAD.fullmatch(scope["path"])
            if path is not None and path[1] not in WINDOWS:
                await PlainTextResponse("Sign in first.", 403)(scope, receive, send)
                return
        await self._app(scope, receive, send)
