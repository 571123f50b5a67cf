"""The question loop: prompts, answers and asides."""
