"""Drills: a hidden fault on the simulated coater, a clock, and what an expert would have done."""
