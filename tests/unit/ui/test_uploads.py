"""Where people sign in, nobody else makes the server keep files."""

from __future__ import annotations

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.types import Message, Scope

from ui.session import uploads
from ui.session.uploads import OnlyFromPeople, Windows


async def taken(_: object) -> PlainTextResponse:
    return PlainTextResponse("kept", 204)


METHODS = ["PUT", "DELETE", "OPTIONS"]
APP = Starlette(
    routes=[
        Route("/_stcore/upload_file/{session_id}/{file_id}", taken, methods=METHODS),
        Route("/_stcore/health", taken),
    ],
    middleware=[Middleware(OnlyFromPeople)],
)


@pytest.fixture(autouse=True)
def windows(monkeypatch: pytest.MonkeyPatch) -> Windows:
    found = Windows()
    monkeypatch.setattr(uploads, "WINDOWS", found)
    return found


def ask(method: str, path: str) -> int:
    """Return the status of the answer to a request, spoken as a server speaks (ASGI)."""
    scope: Scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "path": path,
        "raw_path": path.encode(),
        "query_string": b"",
        "root_path": "",
        "scheme": "http",
        "server": ("192.0.2.2", 8501),
        "client": ("192.0.2.9", 50_000),
        "headers": [(b"host", b"192.0.2.2:8501")],
    }
    sent: list[Message] = []

    async def receive() -> Message:
        raise AssertionError("a refused file is not even read")

    async def send(message: Message) -> None:
        sent.append(message)

    running = APP(scope, receive, send)
    with pytest.raises(StopIteration):  # nothing here waits, so that no event loop is needed
        running.send(None)
    return int(sent[0]["status"])


def test_a_window_in_which_somebody_signed_in_sends_files_until_they_sign_out(
    windows: Windows,
) -> None:
    path = "/_stcore/upload_file/window-1/file-1"
    assert ask("PUT", path) == 403
    windows.note("window-1", signed_in=True)
    assert ask("PUT", path) == 204
    assert ask("PUT", "/_stcore/upload_file/window-2/file-1") == 403
    windows.note("window-1", signed_in=False)
    assert ask("PUT", path) == 403


def test_nobody_else_takes_away_a_file_either() -> None:
    assert ask("DELETE", "/_stcore/upload_file/window-1/file-1") == 403


def test_whatever_else_the_page_needs_goes_on() -> None:
    assert ask("GET", "/_stcore/health") == 204
    assert ask("OPTIONS", "/_stcore/upload_file/window-1/file-1") == 204


def test_no_more_windows_are_remembered_than_fit(
    windows: Windows, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(uploads, "MOST_WINDOWS", 2)
    few = Windows()
    for one in ("a", "b", "c"):
        few.note(one, signed_in=True)

    assert [one in few for one in ("a", "b", "c")] == [False, True, True]
    assert "a" not in windows
