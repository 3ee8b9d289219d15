"""While a survey is taken and entered: its plan before any loop exists, and forms for site."""
