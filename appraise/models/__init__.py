"""What a case is made of; no computation, no input or output."""
