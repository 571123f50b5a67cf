"""The journal of a case, its replay, and the conversation that fills it."""
