"""Figures and tables of the report by the result that they show."""
