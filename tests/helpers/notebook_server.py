"""JupyterLab or Notebook 7 with settings of its own, notebooks in it, and one of them run in a browser."""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.helpers.browser import Browser
from tests.helpers.paths import ROOT
from tests.helpers.tracing_page import Pointer

WIDTH_PX, HEIGHT_PX = 1280, 1000
START_S = 60.0
KERNEL = "jupyterapp.shell.currentWidget.context.sessionContext.session.kernel"
"""The kernel of the notebook that is shown, in the page."""


@dataclass(frozen=True)
class Program:
    """A program that shows notebooks: its module, its class of settings, and the path of a notebook in an address."""

    module: str
    settings: str
    path: str


JUPYTERLAB = Program("jupyterlab", "LabApp", "lab/tree")
NOTEBOOK_7 = Program("notebook", "JupyterNotebookApp", "notebooks")


@dataclass(frozen=True)
class NotebookServer:
    """A running program for notebooks, by its address and the folder that it serves."""

    address: str
    folder: Path
    program: Program

    def notebook(self, name: str, source: str, *files: Path) -> tuple[str, Path]:
        """The address of a new notebook with one cell, and its own new folder, which holds copies of some files."""
        job = self.folder / name
        job.mkdir()
        for file in files:
            shutil.copy(file, job)
        cell = {"cell_type": "code", "id": "one", "metadata": {}, "execution_count": None, "outputs": []}
        kernel = {"kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"}}
        held = {"cells": [cell | {"source": source}], "metadata": kernel, "nbformat": 4, "nbformat_minor": 5}
        (job / "notebook.ipynb").write_text(json.dumps(held), encoding="utf-8")
        return f"{self.address}/{self.program.path}/{name}/notebook.ipynb?reset", job


@contextmanager
def notebook_server(folder: Path, program: Program = JUPYTERLAB) -> Iterator[NotebookServer]:
    """A program that serves `jobs` within a folder, with its settings there too.

    TimeoutError where the server does not start.
    """
    jobs = folder / "jobs"
    jobs.mkdir()
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        sys.executable, "-m", program.module, "--no-browser", "--allow-root", f"--port={port}", "--ServerApp.token=",
        "--ServerApp.password=", f"--ServerApp.root_dir={jobs}", "--ServerApp.port_retries=0",
        f"--{program.settings}.expose_app_in_browser=True", "--LabApp.news_url=None",
    ]  # fmt: skip
    own = {f"JUPYTER_{name}": str(folder / name.lower()) for name in ("CONFIG_DIR", "DATA_DIR", "RUNTIME_DIR")}
    own |= {f"JUPYTERLAB_{name}_DIR": str(folder / name.lower()) for name in ("SETTINGS", "WORKSPACES")}
    with (folder / "log").open("w") as log:
        server = subprocess.Popen(
            command, cwd=jobs, stdout=log, stderr=log, env={**os.environ, **own, "PYTHONPATH": str(ROOT)}
        )
        try:
            _wait_for(port)
            yield NotebookServer(f"http://127.0.0.1:{port}", jobs, program)
        finally:
            server.terminate()
            server.wait(timeout=60.0)


def _wait_for(port: int) -> None:
    deadline = time.monotonic() + START_S
    while time.monotonic() < deadline:
        with socket.socket() as one:
            if one.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    raise TimeoutError(f"nothing listens at port {port}")


def run_notebook(browser: Browser, address: str, shown: str) -> Pointer:
    """Open a notebook, run its cells and wait until an expression in the page is true."""
    browser.call(
        "Emulation.setDeviceMetricsOverride", width=WIDTH_PX, height=HEIGHT_PX, deviceScaleFactor=1, mobile=False
    )
    browser.call("Emulation.setEmulatedMedia", media="", features=[])
    browser.call("Emulation.setScriptExecutionDisabled", value=False)
    browser.call("Page.navigate", url=address)
    hand = Pointer(browser)
    hand.wait("window.jupyterapp?.shell?.currentWidget?.context?.sessionContext?.session?.kernel")
    hand.wait(f"{KERNEL}.status === 'idle'")
    browser.run("jupyterapp.commands.execute('notebook:run-all-cells'), 1")
    hand.wait(shown)
    return hand


def execute(browser: Browser, code: str) -> None:
    """Run code in the kernel of the notebook, after all that waits there, until it is done."""
    asked = f"{KERNEL}.requestExecute({{ code: {json.dumps(code)} }})"
    status = browser.run(f"{asked}.done.then(one => one.content.status)")
    if status != "ok":
        raise RuntimeError(f"the kernel answered {status} to {code!r}")
