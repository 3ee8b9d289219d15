"""The estimate before a survey as one page."""
