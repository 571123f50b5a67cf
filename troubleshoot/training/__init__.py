"""Made things to learn from and to try the readers on: pictures, and what else is simulated."""
