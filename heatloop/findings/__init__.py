"""What is reported: input errors, assumptions, limits, safety notices."""
