"""Repair money, hours and days in draws, with shared access paid once."""
