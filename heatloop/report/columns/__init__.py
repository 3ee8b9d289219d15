"""The tables of all results by name, and which columns a page shows."""
