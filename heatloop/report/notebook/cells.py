"""Interface of a runner of notebook cells, the error of a cell, and what a cell assigns."""

from __future__ import annotations

import ast
from collections.abc import Callable, Container
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


RESULTS_TAG = "results"
"""Tag of the cell that calculates what the others show."""


def assigned(statement: ast.stmt) -> list[str]:
    """Names that a statement assigns."""
    targets = statement.targets if isinstance(statement, ast.Assign) else [getattr(statement, "target", None)]
    return [target.id for target in targets if isinstance(target, ast.Name)]


def without_results(cell: NotebookNode, known: Container[str]) -> str:
    """Source of a cell; of the tagged one, without the assignments of results that are known already."""
    source: str = cell.source
    if RESULTS_TAG not in cell.metadata.get("tags", []):
        return source
    statements = ast.parse(source).body
    kept = [one for one in statements if not (names := assigned(one)) or any(name not in known for name in names)]
    return "\n".join(map(ast.unparse, kept))


Cells = Callable[[NotebookNode, int], None]
"""Runs one code cell, given with its number among all cells, and stores its outputs in it."""
Runner = Callable[[NotebookNode], AbstractContextManager[Cells]]
