"""The chance that each room is warm, and which input matters most."""
