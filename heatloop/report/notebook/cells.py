"""Interface of a runner of notebook cells, and the error of a cell."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from heatloop.report.notebook.jupyter import NotebookNode

PACKAGE_PARENT = Path(__file__).resolve().parents[3]
"""The folder that the package is in: of a checkout, or of the installed packages."""


class CellFailed(Exception):
    """A cell raised an error: its name and its message."""

    def __init__(self, name: str, value: str) -> None:
        super().__init__(f"{name}: {value}")
        self.name, self.value = name, value


Cells = Callable[[NotebookNode, int], None]
"""Runs one code cell, given with its number among all cells, and stores its outputs in it."""
Runner = Callable[[NotebookNode], AbstractContextManager[Cells]]
