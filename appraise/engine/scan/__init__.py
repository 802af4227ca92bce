"""What a scan tool says: codes, live values, monitors, readiness."""
