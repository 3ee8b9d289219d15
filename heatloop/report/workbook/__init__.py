"""The workbook: fifteen sheets with cell formulas."""
