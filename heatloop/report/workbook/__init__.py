"""The workbook: fifteen sheets with live formulas."""
