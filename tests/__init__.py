"""Tests of the package, and what they share."""
