"""Heat and energy of a year, from outdoor temperatures with their hours."""
