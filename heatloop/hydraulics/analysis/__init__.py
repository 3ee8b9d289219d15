"""Questions asked of a solved system."""
