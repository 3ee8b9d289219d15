"""Solved values as tables."""
