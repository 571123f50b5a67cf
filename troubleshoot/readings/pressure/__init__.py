"""Logs of pressure, and pressures by hand."""
