"""Lots of dwellings, sized side by side as one set of loops."""
