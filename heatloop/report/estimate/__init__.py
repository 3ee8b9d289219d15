"""The answer before a survey as one page."""
