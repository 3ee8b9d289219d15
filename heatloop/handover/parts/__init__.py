"""The parts list."""
