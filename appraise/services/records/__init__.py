"""What needs the database: kept cars, their history, backups."""
