"""Findings of the program: input errors, assumptions, limits, safety notices."""
