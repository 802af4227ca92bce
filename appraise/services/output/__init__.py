"""Tables, spreadsheets and printed sheets."""
