"""Where cases and preferences are kept: SQLite or PostgreSQL, and nothing else knows which."""
