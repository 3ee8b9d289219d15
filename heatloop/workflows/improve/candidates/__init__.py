"""Candidates: remedies as values, from the survey and its layout alone, before any of them is tried."""
