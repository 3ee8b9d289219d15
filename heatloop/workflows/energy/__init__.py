"""Flow temperature by weather, and energy of a year."""
