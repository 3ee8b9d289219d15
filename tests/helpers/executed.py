"""Outputs of an executed notebook."""

from __future__ import annotations

import ast
from typing import Any

from nbformat import NotebookNode


def outputs(notebook: NotebookNode) -> list[NotebookNode]:
    """All outputs of all code cells, in order."""
    return [output for cell in notebook.cells if cell.cell_type == "code" for output in cell.outputs]


def complaints(notebook: NotebookNode) -> list[str]:
    """Errors and what was written to stderr, warnings for one."""
    return [
        str(output.get("text") or output.get("evalue"))
        for output in outputs(notebook)
        if output.output_type == "error" or (output.output_type == "stream" and output.name == "stderr")
    ]


def printed(notebook: NotebookNode) -> list[str]:
    """Text written to stdout."""
    return [o.text for o in outputs(notebook) if o.output_type == "stream" and o.name == "stdout"]


def last_value(notebook: NotebookNode) -> Any:
    """The value that the last code cell shows, a literal."""
    return ast.literal_eval(outputs(notebook)[-1].data["text/plain"])
