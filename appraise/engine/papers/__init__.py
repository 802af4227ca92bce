"""What papers, numbers, odometer and title prove, and what speaks against them."""
