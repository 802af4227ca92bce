"""What is done with a car that is owned: jobs, receipts, tests, the decision."""
