"""Plotly figures, pure functions from results."""
