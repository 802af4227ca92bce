"""Navigation: one page for each step of the work."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from appraise.reports.wording import ESTIMATE
from ui.pages import PAGES
from ui.session import signed_in, state
from ui.session.in_turn import GONE
from ui.widgets.left_behind import asks_before_it_is_closed, carry_over

icon = Path(__file__).with_name("icon.png")
st.set_page_config(page_title="Appraise", page_icon=str(icon), layout="wide")
st.html(Path(__file__).with_name("app.css"))

start = st.Page(
    "app_pages/start.py", title="Start", url_path="start", default=True, visibility="hidden"
)
steps = [
    st.Page(f"app_pages/{name}.py", title=title, url_path=name) for name, title in PAGES.items()
]
page = st.navigation([start, *steps], position="hidden")
signed_in.gate()
opened = state.load_open_case()
with st.container(horizontal=True, gap="xsmall", vertical_alignment="center"):
    for one in steps:
        st.page_link(one, query_params={"car": opened.case.id} if opened else None, width="content")
    signed_in.header()
if st.query_params.pop(GONE, ""):
    state.notice("Nothing was done: what you pressed was gone from the page by then.", bad=True)
carry_over(page.title)
page.run()
st.caption(ESTIMATE)
st.html(Path(__file__).with_name("presses.html"), unsafe_allow_javascript=True)
state.note_widgets()
asks_before_it_is_closed()
state.notice_told()
if state.clash_untold():
    st.rerun()
