"""Valve settings, filling, pressures, treatment and handover documents."""
