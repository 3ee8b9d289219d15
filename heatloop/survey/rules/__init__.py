"""Rules of a survey beyond the format of its values."""
