"""Parts of the papers page."""
