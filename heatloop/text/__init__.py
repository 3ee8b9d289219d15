"""How numbers, units, names and summaries are written."""
