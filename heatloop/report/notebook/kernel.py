"""A kernel of its own for a notebook: for callers that are inside a notebook themselves."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from heatloop.report.files.export import NotebookError
from heatloop.report.files.private_folder import private_folder
from heatloop.report.notebook.cells import PACKAGE_PARENT, CellFailed, Cells
from heatloop.report.notebook.jupyter import (
    CellExecutionError,
    DeadKernelError,
    KernelManager,
    KernelSpec,
    NotebookClient,
    NotebookNode,
)

KERNEL_FOLDER = "heatloop-kernel-"
CELL_TIMEOUT_S = 600
LAUNCH = (
    "import gc, runpy; gc.set_threshold(50_000, 20, 50); runpy.run_module('ipykernel_launcher', run_name='__main__')"
)
"""What the kernel's process runs. It lives as long as one report, so that memory is collected seldom: collecting as
often as a new interpreter does takes a tenth of the time that pictures take."""


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
        """Command of the kernel: this Python, without a history file."""
        command = [sys.executable, "-c", LAUNCH, "-f", "{connection_file}"]
        return KernelSpec(argv=[*command, "--HistoryManager.enabled=False"], language="python")


@contextmanager
def _kernel() -> Iterator[KernelManager]:
    """A kernel of its own for one notebook, stopped at the end whatever happens.

    NotebookError where it cannot be started.
    """
    with private_folder(KERNEL_FOLDER) as folder:
        manager = _SameInterpreter(folder)
        try:
            try:
                manager.start_kernel(env=_environment(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            except RuntimeError as error:
                raise NotebookError(f"the kernel did not start ({' '.join(str(error).split())})") from error
            yield manager
        finally:
            if manager.has_kernel:
                manager.shutdown_kernel(now=True)
            manager.cleanup_resources()


@contextmanager
def in_a_kernel(notebook: NotebookNode) -> Iterator[Cells]:
    """Run the cells of a notebook in a kernel of its own, which ends with the block.

    Raises NotebookError where the kernel cannot be started or stops.
    """
    with _kernel() as manager:
        client = NotebookClient(notebook, km=manager, timeout=CELL_TIMEOUT_S)
        client.reset_execution_trackers()

        def run(cell: NotebookNode, index: int) -> None:
            try:
                client.execute_cell(cell, index)
            except CellExecutionError as error:
                raise CellFailed(error.ename, error.evalue) from error

        try:
            with client.setup_kernel(cleanup_kc=False):
                yield run
        except (DeadKernelError, RuntimeError) as error:
            raise NotebookError(f"the kernel stopped ({' '.join(str(error).split())})") from error


def _environment() -> dict[str, str]:
    """The kernel's environment: it finds this package even where it runs from a checkout."""
    paths = [str(PACKAGE_PARENT), os.environ.get("PYTHONPATH", "")]
    return {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in paths if p), "MPLBACKEND": "agg"}
