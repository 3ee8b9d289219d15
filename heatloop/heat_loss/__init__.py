"""Heat loss room by room."""
