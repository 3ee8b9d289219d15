"""Physics: pure functions of numbers and arrays. No files of a project, no tables of a report, no rooms."""
