"""Navigation: one page for each step of the work."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui import state

icon = Path(__file__).with_name("icon.png")
st.set_page_config(page_title="Appraise", page_icon=str(icon), layout="wide")

cars = st.Page(
    "app_pages/cars.py", title="Cars", icon=":material/list:", url_path="cars", default=True
)
look = st.Page("app_pages/look.py", title="Look", icon=":material/visibility:", url_path="look")
prices = st.Page("app_pages/prices.py", title="Prices", icon=":material/sell:", url_path="prices")
bid = st.Page("app_pages/bid.py", title="Bid", icon=":material/gavel:", url_path="bid")
settings = st.Page(
    "app_pages/settings.py", title="Settings", icon=":material/tune:", url_path="settings"
)

page = st.navigation([cars, look, prices, bid, settings], position="hidden")
opened = state.load_open_case()
with st.container(horizontal=True, gap="small"):
    for one in (cars, look, prices, bid, settings):
        st.page_link(one, query_params={"car": opened.case.id} if opened else None, width="content")
page.run()
