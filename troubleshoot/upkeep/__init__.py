"""Runs, the machine's health and care that is due."""
