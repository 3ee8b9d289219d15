"""Notebooks as programs: find one, set its parameters, run it from a clean kernel."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from importlib import metadata
from pathlib import Path
from typing import Any

from heatloop.report.files.export import NotebookFailed, ReportError
from heatloop.report.files.jupyter import (
    CellExecutionError,
    DeadKernelError,
    KernelManager,
    KernelSpec,
    NotebookClient,
    NotebookNode,
    nbformat,
)
from heatloop.report.files.private_folder import private_folder

Progress = Callable[[int, int, str], None]

PARAMETERS_TAG = "parameters"
KERNEL_FOLDER = "heatloop-kernel-"
CELL_TIMEOUT_S = 600
LAUNCH = (
    "import gc, runpy; gc.set_threshold(50_000, 20, 50); runpy.run_module('ipykernel_launcher', run_name='__main__')"
)
"""What the kernel's process runs. It lives as long as one report, so that memory is searched for waste seldom:
searching as often as a new interpreter does takes a tenth of the time that pictures take."""
PACKAGE_PARENT = Path(__file__).resolve().parents[3]


def find_notebook(name: str) -> Path:
    """Where the notebook of that file name lies: in the source checkout, or installed with the package.

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
        raise ReportError(f"notebook: found {len(tagged)} cells tagged {PARAMETERS_TAG!r}, wanted one")
    known = _assigned(notebook.cells[tagged[0]].source)
    unknown = [name for name in values if name not in known]
    if unknown:
        raise ReportError(f"notebook: unknown parameter {', '.join(unknown)}; it has {', '.join(known)}")
    copy = nbformat.from_dict(notebook)  # type: ignore[no-untyped-call]
    source = "\n".join(f"{name} = {value!r}" for name, value in values.items())
    cell = nbformat.v4.new_code_cell(source, id="injected-parameters", metadata={"tags": ["injected-parameters"]})  # type: ignore[no-untyped-call]
    copy.cells.insert(tagged[0] + 1, cell)
    return copy  # type: ignore[no-any-return]


def _assigned(source: str) -> list[str]:
    """Names that a cell sets at its top level."""
    names = []
    for node in ast.parse(source).body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        names += [target.id for target in targets if isinstance(target, ast.Name)]
    return names


class _SameInterpreter(KernelManager):
    """A kernel of this very interpreter, whatever kernels are installed on the machine.

    It talks through sockets in `folder` where the system has them, so that no port is open.
    """

    def __init__(self, folder: Path, **settings: Any) -> None:
        super().__init__(client_class="jupyter_client.asynchronous.AsyncKernelClient", **settings)
        self.connection_file = str(folder / "connection.json")
        if os.name == "posix":
            self.transport = "ipc"
            self.ip = str(folder / "socket")

    @property
    def kernel_spec(self) -> KernelSpec:
        """What to start: this Python, without a history file."""
        command = [sys.executable, "-c", LAUNCH, "-f", "{connection_file}"]
        return KernelSpec(argv=[*command, "--HistoryManager.enabled=False"], language="python")


@contextmanager
def clean_kernel() -> Iterator[KernelManager]:
    """A kernel of its own for one notebook, stopped at the end whatever happens; it starts up meanwhile.

    NotebookFailed where it cannot be started.
    """
    with private_folder(KERNEL_FOLDER) as folder:
        manager = _SameInterpreter(folder)
        try:
            try:
                manager.start_kernel(env=_environment(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            except RuntimeError as error:
                raise NotebookFailed(f"the kernel did not start ({' '.join(str(error).split())})") from error
            yield manager
        finally:
            if manager.has_kernel:
                manager.shutdown_kernel(now=True)
            manager.cleanup_resources()


def run_notebook(
    path: Path, values: Mapping[str, object], progress: Progress | None = None, kernel: KernelManager | None = None
) -> NotebookNode:
    """Run a notebook with those parameters in a kernel of its own and return it with its outputs.

    progress is called before each code cell with (cells done, cells in all, the last heading). kernel: one that has
    run nothing yet, see :func:`clean_kernel`; None starts one and stops it. ReportError where input or disk is at
    fault, NotebookFailed for anything else.
    """
    if kernel is None:
        with clean_kernel() as own:
            return run_notebook(path, values, progress, own)
    stored = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
    notebook = with_parameters(stored, values)
    try:
        _run_cells(NotebookClient(notebook, km=kernel, timeout=CELL_TIMEOUT_S), progress)
    except (DeadKernelError, RuntimeError) as error:
        raise NotebookFailed(f"{path.name}: the kernel stopped ({' '.join(str(error).split())})") from error
    return notebook


def _run_cells(client: NotebookClient, progress: Progress | None) -> None:
    """Run the code cells in order, with the heading above each for progress and faults."""
    cells = client.nb.cells
    code = [i for i, cell in enumerate(cells) if cell.cell_type == "code"]
    heading = ""
    client.reset_execution_trackers()
    with client.setup_kernel(cleanup_kc=False):
        for i, cell in enumerate(cells):
            if cell.cell_type == "markdown":
                heading = _heading(cell.source) or heading
            elif cell.cell_type == "code":
                if progress:
                    progress(code.index(i), len(code), heading)
                try:
                    client.execute_cell(cell, i)
                except CellExecutionError as error:
                    raise _explained(error.ename, error.evalue, heading) from error
    if progress:
        progress(len(code), len(code), "done")


def _environment() -> dict[str, str]:
    """The kernel's environment: it finds this package even where it runs from a checkout."""
    paths = [str(PACKAGE_PARENT), os.environ.get("PYTHONPATH", "")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in paths if p), "MPLBACKEND": "agg"}


def _heading(source: str) -> str:
    for line in source.splitlines():
        if line.startswith("#"):
            return line.lstrip("#").strip()
    return ""


_INPUT_FAULTS = ("SurveyError", "DesignError", "ReportError")
_DISK_FAULTS = ("OSError", "PermissionError", "FileNotFoundError", "NotADirectoryError", "FileExistsError")


def _explained(name: str, value: str, heading: Any) -> Exception:
    if name in _INPUT_FAULTS:
        return ReportError(value)
    if name in _DISK_FAULTS:
        return ReportError(f"cannot write the report: {value}")
    return NotebookFailed(f"the notebook stopped at {heading!r}: {name}: {' '.join(value.split())}")
