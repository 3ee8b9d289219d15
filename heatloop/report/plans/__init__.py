"""Drawings in plan."""
