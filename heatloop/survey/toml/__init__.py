"""The text of a TOML file: read within limits, its slips told in plain words."""
