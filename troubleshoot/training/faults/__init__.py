"""What each cause of the rule base does to the parts of a plant, in the plant's own physics."""
