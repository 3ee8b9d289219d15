"""What the files of a report are called."""

PAGE = "report.html"
PDF = "report.pdf"
WORKBOOK = "design.xlsx"
JSON = "design.json"
