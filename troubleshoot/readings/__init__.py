"""Quantities and files turned into findings with their uncertainty."""
