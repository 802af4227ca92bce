"""Fields, pickers, tables and words that every page uses."""
