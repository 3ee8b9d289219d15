"""What the files of a report are called."""

PAGE = "report.html"
PDF = "report.pdf"
LABELS = "labels.html"
SHEET = "commissioning.html"
WORKBOOK = "design.xlsx"
JSON = "design.json"
MANIFEST = "files.txt"
