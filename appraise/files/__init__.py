"""Files replaced whole, and files held by one program at a time."""
