"""Charts of rooms, heat loss and cutting; the style of all pictures."""
