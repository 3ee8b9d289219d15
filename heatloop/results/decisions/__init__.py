"""Results of studies of a design: weather curve, energy of a year, uncertainty."""
