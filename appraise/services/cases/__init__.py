"""Making, reading, changing and appraising cases."""
