"""Named random streams, ranges as distributions, order statistics, rounding."""
