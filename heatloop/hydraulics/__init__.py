"""The water side: flows, temperatures, pressures and valve settings."""
