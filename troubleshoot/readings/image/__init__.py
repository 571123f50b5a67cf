"""Micrographs, and pairs of them."""
