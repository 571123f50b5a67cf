"""Pure functions on numbers, SI throughout: vacuum, discharge, units."""
