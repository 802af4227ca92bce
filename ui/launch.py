"""Start the screens on this machine; stands beside `app.py` so that its settings are found."""

from __future__ import annotations

import argparse
import logging
from pathlib import Path

import streamlit as st

ADDRESS = "127.0.0.1"


def say(error: Exception) -> bool:
    """Show an error of a page in words; what is not known goes to the log with its trace."""
    from appraise.errors import AppraiseError  # noqa: PLC0415 - the server is up sooner

    if isinstance(error, AppraiseError):
        st.error(str(error))
    else:
        logging.getLogger("appraise").error("a page failed", exc_info=error)
        st.error(
            "Something went wrong on this page. What you entered before is kept; reload the page "
            "to go on."
        )
    return True


app = st.App(Path(__file__).with_name("app.py"), on_script_error=say)

if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--port", type=int, default=8501)
    parser.add_argument("--no-browser", action="store_true")
    given = parser.parse_args()
    app.run(
        config={
            "server.address": ADDRESS,
            "server.port": given.port,
            "server.headless": given.no_browser,
        }
    )
