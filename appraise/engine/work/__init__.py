"""Planned jobs, their days, the budget's forecast, what done jobs teach."""
