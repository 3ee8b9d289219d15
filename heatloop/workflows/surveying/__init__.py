"""While a survey is made and entered: its plan before any loop exists, and forms for site."""
