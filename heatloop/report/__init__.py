"""Figures, tables and published reports, from results; nothing is calculated here."""
