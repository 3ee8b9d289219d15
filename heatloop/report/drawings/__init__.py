"""Drawings at scale on sheets of paper."""
