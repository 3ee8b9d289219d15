"""Model of a site: expected readings."""
