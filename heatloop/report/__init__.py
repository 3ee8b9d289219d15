"""Pictures, tables and published reports: they read results and compute nothing."""
