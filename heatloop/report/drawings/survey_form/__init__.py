"""Forms on A4 to take a survey on site: blank, or filled in from a survey to check it."""
