"""Probability of each fault."""
