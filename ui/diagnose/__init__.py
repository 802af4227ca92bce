"""The parts of the page Diagnose."""
