"""Publishing a design: the documents for all its readers."""
