"""Measurements against limits, and logged pulls at full load."""
