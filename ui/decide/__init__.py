"""Parts of the sell-or-repair page."""
