"""How likely each fault is."""
