"""Fault diagnosis for a bench-top sputter coater and the images of what it coated."""

__version__ = "0.1.0"
