"""Temperatures along the channels of skirting."""
