"""Parts of the settings page."""
