"""Surveys and catalogues as the rows of sheets, in workbooks and data frames."""
