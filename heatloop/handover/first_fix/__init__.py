"""Pipe positions before the floors close."""
