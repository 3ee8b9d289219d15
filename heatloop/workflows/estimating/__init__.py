"""Before a survey: whether it will work, how many metres, about what price."""
