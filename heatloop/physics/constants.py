"""Constants of nature that several formulas share."""

GRAVITY_M_S2 = 9.80665
"""Standard acceleration of free fall, m/s2 (ISO 80000-3)."""
