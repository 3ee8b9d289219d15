"""A second model of a site, with formulas of its own: it makes the readings by which the diagnosis is scored."""
