"""Parts of the repair page."""
