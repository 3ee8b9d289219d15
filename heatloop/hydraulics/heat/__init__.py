"""Heat of channels and emitters at given flows."""
