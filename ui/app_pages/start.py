from __future__ import annotations

import streamlit as st

st.switch_page("app_pages/cars.py")
