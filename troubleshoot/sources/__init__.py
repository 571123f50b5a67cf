"""Bytes of a file to tables and logs."""
