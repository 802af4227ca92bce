"""Which faults the car may have, and which jobs they need."""
