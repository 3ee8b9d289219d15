"""Cutting stock."""
