"""Surveys as the tables of a file, and changes to these tables."""
