"""The survey: all that is measured or decided before calculation."""
