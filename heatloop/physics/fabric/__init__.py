"""U-values of building elements."""
