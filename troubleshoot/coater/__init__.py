"""The coater: what is known of it, and what is plausible."""
