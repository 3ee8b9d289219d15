"""Remedies for what a survey misses, each tried in the solver, and the least costly survey that passes."""
