"""Frozen results and what is read from them."""
