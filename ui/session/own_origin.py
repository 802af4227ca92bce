"""Pages of other addresses may not talk to the screens, whatever they are and wherever they run."""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send
from starlette.websockets import WebSocketClose

from appraise.screens import only_here

__all__ = ["OwnOrigin"]

POLICY_VIOLATION = 1008
"""RFC 6455, section 7.4.1."""


class OwnOrigin:
    """Refuses requests whose `Origin` is not the very host and port that they go to.

    Stricter than the server itself, which trusts every page that this machine serves on any port.

    Parameters
    ----------
    here : only this machine is served, so that no other name of a host can be meant. A page whose
        name was given this machine's address after it was loaded is of its own origin otherwise.
    """

    def __init__(self, app: ASGIApp, *, here: bool = False) -> None:
        self._app = app
        self._here = here

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        kind = scope["type"]
        if kind in ("http", "websocket") and not self._is_meant(Headers(scope=scope)):
            if kind == "http":
                refusal = PlainTextResponse("This page is not of this address.", 403)
                await refusal(scope, receive, send)
            else:
                await WebSocketClose(POLICY_VIOLATION)(scope, receive, send)
            return
        await self._app(scope, receive, send)

    def _is_meant(self, headers: Headers) -> bool:
        return _own(headers) and (not self._here or _only_here(headers))


def _own(headers: Headers) -> bool:
    """Whether a request comes from a page of this address, or from no page at all."""
    origin = headers.get("origin")
    if origin is None:
        return True
    try:
        return urlsplit(origin).netloc == headers.get("host", "") != ""
    except ValueError:
        return False


def _only_here(headers: Headers) -> bool:
    """Whether a request goes to a name that only this machine can have."""
    try:
        return only_here(urlsplit(f"//{headers.get('host', '')}").hostname or "")
    except ValueError:
        return False
