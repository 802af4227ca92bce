"""What goes on paper, on the terminal and into spreadsheets."""
