"""Random systems and sites to diagnose, and how often that is right."""
