"""File formats of survey and catalogue: tables, fields, validation."""
