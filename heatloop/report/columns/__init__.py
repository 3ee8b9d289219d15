"""Headings, units and meanings of columns."""
