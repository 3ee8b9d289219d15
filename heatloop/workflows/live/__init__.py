"""A design that is changed by sliders in a notebook."""
