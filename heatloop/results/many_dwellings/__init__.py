"""Results of many dwellings: lean tables and checks as arrays."""
