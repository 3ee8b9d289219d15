"""Charts."""
