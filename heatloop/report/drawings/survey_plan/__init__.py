"""The plan of a survey that is still being entered: its rooms, and its faults numbered on them."""
