"""Reference values with their sources, shipped as data."""
