"""Weather of a year, and efficiency and price of the heat source."""
