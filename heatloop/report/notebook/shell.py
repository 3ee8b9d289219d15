"""The cells of a notebook run by IPython's shell in this process, their outputs captured as a notebook stores them."""

from __future__ import annotations

import atexit
import os
import sys
import types
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Any

from IPython.core.displayhook import DisplayHook
from IPython.core.displaypub import CapturingDisplayPublisher
from IPython.core.interactiveshell import InteractiveShell
from IPython.utils.capture import capture_output
from traitlets import Type
from traitlets.config import Config

from heatloop.report.files.private_folder import private_folder
from heatloop.report.notebook.cells import CellFailed, Cells, without_results
from heatloop.report.notebook.jupyter import NotebookNode, nbformat

SHELL_FOLDER = "heatloop-shell-"
NAMESPACE = "heatloop_report_notebook"


class _ValueHook(DisplayHook):
    """Stores the value of a cell's last line with what the cell displayed."""

    def write_output_prompt(self) -> None:
        """No prompt is written."""

    def write_format_data(self, format_dict: Mapping[str, Any], md_dict: Mapping[str, Any] | None = None) -> None:
        """Store the value in its formats."""
        shown = {"data": format_dict, "metadata": md_dict, "output_type": "execute_result"}
        shell: Any = self.shell
        shell.display_pub.outputs.append(shown)

    def finish_displayhook(self) -> None:
        """Nothing is written to the terminal."""


class _CapturingShell(InteractiveShell):
    """A shell that displays nothing and keeps what it would display."""

    displayhook_class = Type(_ValueHook)
    display_pub_class = Type(CapturingDisplayPublisher)

    def init_virtualenv(self) -> None:
        """Packages of another virtual environment that is active are not added to those of this process."""


def shell_is_free() -> bool:
    """Whether this process has no IPython shell yet; a process has at most one, as inside a notebook."""
    return not InteractiveShell.initialized()


@contextmanager
def in_this_process(notebook: NotebookNode, results: Mapping[str, object] | None = None) -> Iterator[Cells]:
    """Run the cells of a notebook one after the other in a fresh namespace; the shell ends with the block.

    `results`: values by name that are known already; the cell tagged for results does not calculate these again.
    Pictures are drawn without a window. The shell keeps no history and leaves no file behind.
    """
    backend = os.environ.get("MPLBACKEND")
    hooks = sys.excepthook, sys.displayhook
    os.environ["MPLBACKEND"] = "agg"
    with private_folder(SHELL_FOLDER) as folder:
        config = Config()
        config.HistoryManager.enabled = False
        shell = _CapturingShell.instance(
            config=config, ipython_dir=str(folder), user_module=types.ModuleType(NAMESPACE)
        )
        known = dict(results or {})
        shell.user_ns.update(known)
        try:
            yield lambda cell, index: _run_cell(shell, cell, without_results(cell, known))
        finally:
            _end(shell)
            sys.modules.pop(NAMESPACE, None)
            sys.excepthook, sys.displayhook = hooks
            if backend is None:
                os.environ.pop("MPLBACKEND", None)
            else:
                os.environ["MPLBACKEND"] = backend


def _end(shell: Any) -> None:
    """End the shell and its namespace now; by itself it would be kept until the process ends."""
    _CapturingShell.clear_instance()
    atexit.unregister(shell.atexit_operations)
    shell.displayhook.do_full_cache = False  # each value kept would be searched for in all memory
    shell.atexit_operations()


def _run_cell(shell: Any, cell: NotebookNode, source: str) -> None:
    """Run the source of a cell and store the outputs in it; CellFailed for an error in it, else what stops it."""
    shown = shell.display_pub.outputs
    shown.clear()
    cell.execution_count = shell.execution_count
    with capture_output(display=False) as captured:
        result = shell.run_cell(source, store_history=True)
    streams = (("stdout", captured.stdout), ("stderr", captured.stderr))
    cell.outputs = [
        *(nbformat.from_dict({"output_type": "stream", "name": name, "text": text}) for name, text in streams if text),  # type: ignore[no-untyped-call]
        *(_output(output, cell.execution_count) for output in shown),
    ]
    error = result.error_before_exec or result.error_in_exec
    if isinstance(error, Exception):
        raise CellFailed(type(error).__name__, str(error)) from error
    if error is not None:
        raise error


def _output(shown: Mapping[str, Any], count: int) -> NotebookNode:
    """Output of a cell in the notebook format."""
    kind = shown.get("output_type", "display_data")
    more = {"execution_count": count} if kind == "execute_result" else {}
    output = {"output_type": kind, "data": shown["data"], "metadata": shown["metadata"] or {}, **more}
    return nbformat.from_dict(output)  # type: ignore[no-any-return, no-untyped-call]
