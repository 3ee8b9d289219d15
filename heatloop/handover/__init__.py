"""Parts, cutting, installation and commissioning of a design."""
