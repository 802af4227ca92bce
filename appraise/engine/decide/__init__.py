"""Repair or sell: every option from today on, and the best set of jobs."""
