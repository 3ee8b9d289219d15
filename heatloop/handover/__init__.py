"""What the workshop and the fitter get: parts, cutting plans and commissioning sheets."""
