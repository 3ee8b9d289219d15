"""Sheets as files: PDF, SVG, DXF and figures."""
