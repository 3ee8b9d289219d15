"""Sheets as files: PDF, SVG and DXF."""
