"""Estimate before a survey: feasibility, metres and approximate price."""
