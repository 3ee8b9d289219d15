"""The survey: all data measured or decided before the calculation."""
