"""Rooms traced on the picture of a plan: values, snapping, steps of the tracing, accuracy, saved form."""
