"""Parts of the prices page."""
