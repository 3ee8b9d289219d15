"""Runs too long for every day."""
