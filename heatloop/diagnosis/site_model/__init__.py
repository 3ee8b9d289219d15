"""What would be read on site."""
