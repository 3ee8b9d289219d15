"""Runs that take longer than a test may: each is a sub-command of `python -m tests.long`."""
