"""The steps in order."""
