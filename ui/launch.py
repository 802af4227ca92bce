"""Start the screens on this machine; stands beside `app.py` so that its settings are found."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware

from appraise.errors import AppraiseError
from appraise.screens import ADDRESS, SIGN_IN, server_options
from ui.session.in_turn import InTurn
from ui.session.own_origin import OwnOrigin
from ui.session.uploads import OnlyFromPeople
from ui.warming import warmed


def say(error: Exception) -> bool:
    """Show an error of a page in words; what is not known goes to the log with its trace."""
    from ui.words import plain  # noqa: PLC0415 - brings all the models: not before the server answers

    if isinstance(error, AppraiseError):
        st.error(plain(str(error)))
    else:
        logging.getLogger("appraise").error("a page failed", exc_info=error)
        st.error(
            "Something went wrong on this page. What you entered before is kept; reload the page "
            "to go on."
        )
    # Draws the page anew without reloading it, which would ask for the password again.
    st.button("Go on", key=f"go-on:{id(error)}")
    return True


app = st.App(
    Path(__file__).with_name("app.py"),
    on_script_error=say,
    lifespan=warmed,
    middleware=[
        Middleware(OwnOrigin, here=not os.environ.get(SIGN_IN)),
        *([Middleware(OnlyFromPeople)] if os.environ.get(SIGN_IN) else []),
        Middleware(InTurn),
    ],
)

if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--port", type=int, default=8501)
    parser.add_argument("--address", default=ADDRESS)
    parser.add_argument("--no-browser", action="store_true")
    given = parser.parse_args()
    from appraise.settings import Settings

    try:
        options = server_options(
            Settings(), given.address, given.port, browser=not given.no_browser
        )
    except AppraiseError as error:
        print(f"appraise: {error}", file=sys.stderr)  # noqa: T201
        sys.exit(2)
    app.run(config=options)
