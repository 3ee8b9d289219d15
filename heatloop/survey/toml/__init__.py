"""Read TOML files within limits, and word their syntax errors."""
