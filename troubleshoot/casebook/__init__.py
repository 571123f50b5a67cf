"""Where cases are kept."""
