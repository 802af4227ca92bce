"""Parts of the test page."""
