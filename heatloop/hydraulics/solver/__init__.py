"""Heat and flow solved together."""
