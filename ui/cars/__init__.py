"""Parts of the cars page."""
