"""Notebooks as programs: find one, set its parameters, run it in a fresh namespace."""

from __future__ import annotations

import ast
from collections.abc import Callable, Mapping
from functools import partial
from importlib import metadata
from pathlib import Path
from typing import Any

from heatloop.findings.input_errors import InputError
from heatloop.report.files.export import NotebookError, ReportError
from heatloop.report.notebook.cells import PACKAGE_PARENT, CellFailed, Cells, Runner, assigned
from heatloop.report.notebook.jupyter import NotebookNode, nbformat

Progress = Callable[[int, int, str], None]

PARAMETERS_TAG = "parameters"


def find_notebook(name: str) -> Path:
    """Path of the notebook of that file name, in the source checkout or installed with the package.

    ReportError where it is in neither place.
    """
    checkout = PACKAGE_PARENT / "notebooks" / name
    if checkout.is_file():
        return checkout
    try:
        installed = metadata.files("heatloop") or []
    except metadata.PackageNotFoundError:
        installed = []
    for file in installed:
        if file.name == name and Path(str(file.locate())).is_file():
            return Path(str(file.locate()))
    raise ReportError(f"notebook {name}: found neither in {checkout.parent} nor with the installed package")


def with_parameters(notebook: NotebookNode, values: Mapping[str, object]) -> NotebookNode:
    """A copy of the notebook with a cell that sets `values` after its cell tagged `parameters`.

    ReportError for a name that the tagged cell does not set, or where no cell, or more than one, is tagged.
    """
    tagged = [i for i, cell in enumerate(notebook.cells) if PARAMETERS_TAG in cell.metadata.get("tags", [])]
    if len(tagged) != 1:
        raise ReportError(f"notebook: found {len(tagged)} cells tagged {PARAMETERS_TAG!r}; required: one")
    statements = ast.parse(notebook.cells[tagged[0]].source).body
    known = [name for statement in statements for name in assigned(statement)]
    unknown = [name for name in values if name not in known]
    if unknown:
        raise ReportError(f"notebook: unknown parameter {', '.join(unknown)}; it has {', '.join(known)}")
    copy = nbformat.from_dict(notebook)  # type: ignore[no-untyped-call]
    source = "\n".join(f"{name} = {value!r}" for name, value in values.items())
    cell = nbformat.v4.new_code_cell(source, id="injected-parameters", metadata={"tags": ["injected-parameters"]})  # type: ignore[no-untyped-call]
    copy.cells.insert(tagged[0] + 1, cell)
    return copy  # type: ignore[no-any-return]


def usual_runner(results: Mapping[str, object] | None = None) -> Runner:
    """The cells run in this process; where it runs a shell already, as inside a notebook, in a kernel of their own.

    `results`: known results by name, which are then not calculated again in this process.
    """
    from heatloop.report.notebook.shell import in_this_process, shell_is_free

    if shell_is_free():
        return partial(in_this_process, results=results)
    from heatloop.report.notebook.kernel import in_a_kernel

    return in_a_kernel


def run_notebook(
    path: Path, values: Mapping[str, object], progress: Progress | None = None, runner: Runner | None = None
) -> NotebookNode:
    """Run a notebook with those parameters in a fresh namespace and return it with its outputs.

    progress is called before each code cell with (cells done, cells in all, the last heading). `runner`: where the
    cells run; None: see :func:`usual_runner`. ReportError where input or disk is at fault, NotebookError for anything
    else.
    """
    stored = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
    notebook = with_parameters(stored, values)
    with (runner or usual_runner())(notebook) as run:
        _run_cells(notebook, run, progress)
    return notebook


def _run_cells(notebook: NotebookNode, run: Cells, progress: Progress | None) -> None:
    """Run the code cells in order, with the heading above each for progress and faults."""
    code = [i for i, cell in enumerate(notebook.cells) if cell.cell_type == "code"]
    heading = ""
    for i, cell in enumerate(notebook.cells):
        if cell.cell_type == "markdown":
            heading = _heading(cell.source) or heading
        elif cell.cell_type == "code":
            if progress:
                progress(code.index(i), len(code), heading)
            try:
                run(cell, i)
            except CellFailed as error:
                raise _explained(error.name, error.value, heading) from error
    if progress:
        progress(len(code), len(code), "done")


def _heading(source: str) -> str:
    for line in source.splitlines():
        if line.startswith("#"):
            return line.lstrip("#").strip()
    return ""


_INPUT_FAULTS = (InputError.__name__, ReportError.__name__)
_DISK_FAULTS = ("OSError", "PermissionError", "FileNotFoundError", "NotADirectoryError", "FileExistsError")


def _explained(name: str, value: str, heading: Any) -> Exception:
    if name in _INPUT_FAULTS:
        return ReportError(value)
    if name in _DISK_FAULTS:
        return ReportError(f"cannot write the report: {value}")
    return NotebookError(f"the notebook stopped at {heading!r}: {name}: {' '.join(value.split())}")
