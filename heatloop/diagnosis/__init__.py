"""From readings on site to likely faults."""
