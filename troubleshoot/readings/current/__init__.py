"""Logs of the discharge current."""
