"""Flows, balancing and valve settings of a sized system."""
