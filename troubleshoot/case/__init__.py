"""A case: its journal, what is known, what follows and what is believed."""
