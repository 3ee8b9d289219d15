"""HTML pages and tables."""
