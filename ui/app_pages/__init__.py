"""One script a page; Streamlit runs them by path."""
