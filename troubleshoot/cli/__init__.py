"""One thin module a command."""
