"""The price of the car after repair and as is, from comparable cars."""
