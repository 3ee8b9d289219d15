"""The interactive plan: one page with a design at several flow and outdoor temperatures, readable without script."""
