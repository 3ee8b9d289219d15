"""The folder that a report is put into: which of its files are a report's, and how all of them change together."""
