"""Tables logged by a scan tool, read column by column."""
