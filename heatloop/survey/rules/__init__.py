"""What a survey must mean beyond its format."""
