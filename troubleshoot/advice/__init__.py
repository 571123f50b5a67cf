"""What to say of a case."""
