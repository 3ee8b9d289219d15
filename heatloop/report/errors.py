"""What can go wrong in making a report: the world's fault, or the notebook's own."""

from __future__ import annotations


class ReportError(Exception):
    """The report cannot be made for a reason outside the program; `str()` says why, a line for each."""


class NotebookFailed(Exception):
    """A notebook stopped on a fault of its own; `str()` is one line that says where and why."""
