"""Gets ready what the first page needs, while the browser is still loading."""

from __future__ import annotations

import gc
import logging
import sys
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from threading import Thread
from time import sleep

import streamlit as st

from appraise.errors import AppraiseError

__all__ = ["MOST_WARMED", "warm", "warmed"]

MOST_WARMED = 20
"""Cars worked out beforehand: those of the first page of the list."""
TURNS, USUAL = 0.0005, 0.005
"""Seconds that one thread runs before another has its turn: the browser's requests must not wait
for the five milliseconds that are usual, sixty times over, while this goes on beside them."""

CONTEXT = "streamlit.runtime.scriptrunner_utils.script_run_context"
AFTER = 2.0
"""Seconds before the pages after the first have their turn."""


def warm() -> None:
    """Read the program, the catalog and the first cars into the caches.

    What goes wrong is left to the page, which does the same again and has the words for it. What
    stays as long as the program is frozen: Streamlit collects garbage after every run of a page,
    and looks at each object again otherwise.
    """
    # The caches have a spinner for the page; that there is none to show it on is as it should be.
    logging.getLogger(CONTEXT).setLevel(logging.ERROR)
    gc.disable()
    try:
        # The page imports these as well; importing them here is half of the work.
        import ui.cars.new_car  # noqa: PLC0415
        import ui.widgets.sheets  # noqa: PLC0415
        from ui.session import cached  # noqa: PLC0415

        with suppress(AppraiseError):
            cached.what_stays()
        gc.freeze()
        gc.enable()
        with suppress(AppraiseError):
            cached.first_cars(MOST_WARMED)
    finally:  # whatever goes wrong: the program runs on with both
        gc.enable()
        sys.setswitchinterval(USUAL)
    sleep(AFTER)
    # And what the pages after it need, when the first one is there.
    import ui.plots.bid  # noqa: PLC0415
    import ui.repair.parts  # noqa: F401, PLC0415

    gc.freeze()


@asynccontextmanager
async def warmed(app: st.App) -> AsyncIterator[None]:
    """Start with a thread that gets the first page ready."""
    del app
    sys.setswitchinterval(TURNS)
    Thread(target=warm, name="getting the first page ready", daemon=True).start()
    yield
