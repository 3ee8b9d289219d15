"""The notebook of the report: its cells run, and the page made of them."""
