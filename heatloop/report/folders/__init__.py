"""The folder of a report: which of its files belong to a report, and how all of them are replaced together."""
