"""Limits, and the comparison of a design with them."""
