"""What is found on a car: findings, codes, measurements, papers, prices."""
