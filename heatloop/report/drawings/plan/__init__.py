"""A level on paper and everything that is written on it."""
