"""What comes from outside: dates, units, file names, pictures, bar codes, logs."""
