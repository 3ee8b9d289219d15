"""Analyses of a solved system."""
