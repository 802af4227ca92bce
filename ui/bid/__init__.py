"""Parts of the bid page."""
