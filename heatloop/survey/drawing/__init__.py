"""Rooms from a DXF drawing."""
