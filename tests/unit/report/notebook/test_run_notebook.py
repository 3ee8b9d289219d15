"""Where the report's cells run: in the command's own process, or in a kernel whose sockets stay out of the way."""

from __future__ import annotations

import datetime as dt
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import nbformat
import pytest

import heatloop as hl
from heatloop.report.files.export import NotebookError, ReportError
from heatloop.report.files.private_folder import private_folder
from heatloop.report.notebook.cells import Runner
from heatloop.report.notebook.kernel import KERNEL_FOLDER, in_a_kernel
from heatloop.report.notebook.notebook_page import page_html
from heatloop.report.notebook.run_notebook import find_notebook, run_notebook, usual_runner
from heatloop.report.notebook.shell import in_this_process
from tests.helpers.command_line import answer
from tests.helpers.paths import DATA, ROOT
from tests.helpers.patience import SURELY_S

SURVEY = DATA / "mill-annexe" / "survey.toml"
AT_ONCE = 4

FORKED = """
import os, sys
import heatloop.__main__ as program, heatloop.workflows.publishing.publish
import heatloop.report.notebook.jupyter, heatloop.report.notebook.notebook_page, heatloop.report.notebook.shell
import heatloop.report.plots.figure, heatloop.report.workbook.book
import IPython.core.interactiveshell, matplotlib.pyplot, openpyxl, scipy.optimize
survey, *places = sys.argv[1:]
begun = []
for place in places:
    if not (process := os.fork()):
        sys.argv = ["heatloop", "report", survey, "-o", place, "--for", "check"]
        program.program()
    begun.append(process)
sys.exit(max(os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]) & 0xFF for process in begun))
"""
"""Begins a process of the program for each folder, all at once, when what they import is there."""


def start_report(folder: Path, out: Path) -> subprocess.Popen[str]:
    return started([sys.executable, "-m", "heatloop", "report", str(SURVEY), "-o", str(out), "--for", "check"], folder)


def started(command: list[str], folder: Path) -> subprocess.Popen[str]:
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes begin here without what another has imported")
def test_reports_at_once_from_one_folder_leave_nothing_in_it(tmp_path: Path) -> None:
    work = tmp_path / "work"
    work.mkdir()
    places = [tmp_path / f"out{i}" for i in range(AT_ONCE)]
    done = started([sys.executable, "-c", FORKED, str(SURVEY), *map(str, places)], work)
    told = done.communicate(timeout=SURELY_S)
    assert done.returncode == 0, told
    assert told[0].count("check: 3 files") == AT_ONCE
    assert list(work.iterdir()) == []
    pages = {(tmp_path / f"out{i}" / "data" / "rooms.csv").read_text(encoding="utf-8") for i in range(AT_ONCE)}
    assert len(pages) == 1


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="no folder here that even root cannot write to")
def test_a_report_from_a_folder_that_cannot_be_written_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir("/proc")
    done = answer("report", SURVEY, "-o", tmp_path / "out", "--for", "check")
    assert done.returncode == 0, done.stderr
    assert list((tmp_path / "out" / "check").glob("*_design-report.html"))


def test_the_private_folder_is_private_and_removed() -> None:
    with private_folder(KERNEL_FOLDER) as folder:
        assert folder.is_dir()
        if os.name == "posix":
            assert folder.stat().st_mode & 0o077 == 0
    assert not folder.exists()


def test_what_a_killed_run_left_is_removed_by_the_next_and_a_running_one_is_kept() -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    base = Path(tempfile.gettempdir())
    left = Path(tempfile.mkdtemp(prefix=f"{KERNEL_FOLDER}{ended.pid}-", dir=base))
    (left / "connection.json").write_text("{}", encoding="utf-8")
    with private_folder(KERNEL_FOLDER) as running, private_folder(KERNEL_FOLDER):
        assert not left.exists()
        assert running.is_dir()


def page_of(runner: Runner | None) -> str:
    notebook = run_notebook(find_notebook("design_report.ipynb"), {"survey_path": str(SURVEY)}, runner=runner)
    return page_html(notebook, "Mill Annexe", "1", dt.date(2026, 1, 2))


def test_a_kernel_of_its_own_gives_the_same_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert page_of(in_a_kernel) == page_of(in_this_process)
    assert list(tmp_path.iterdir()) == []


def test_a_killed_report_leaves_nothing_where_it_was_started(tmp_path: Path) -> None:
    run = start_report(tmp_path, tmp_path / "out")
    while run.poll() is None and not list(tmp_path.glob(".heatloop-*")):
        time.sleep(0.02)
    run.send_signal(signal.SIGKILL)
    run.wait()
    assert [path for path in tmp_path.iterdir() if "kernel" in path.name or "socket" in path.name] == []


CELLS = """
print("words")
display("shown")
1 + 1
"""


def test_cells_keep_what_they_show_in_order_as_a_kernel_does(tmp_path: Path) -> None:
    sources = ["a = 1", CELLS, "a + 1;", "import sys; print('aside', file=sys.stderr)"]
    cells = [nbformat.v4.new_code_cell(source, id=f"c{i}") for i, source in enumerate(sources)]
    cells[0].metadata["tags"] = ["parameters"]
    path = tmp_path / "small.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=cells), path)
    found = [run_notebook(path, {"a": 2}, runner=runner) for runner in (in_this_process, in_a_kernel)]
    kinds = [
        [(cell.id, [(o.output_type, o.get("text"), o.get("data")) for o in cell.outputs]) for cell in one.cells]
        for one in found
    ]
    assert kinds[0] == kinds[1]
    assert [kind for kind, *_ in dict(kinds[0])["c1"]] == ["stream", "display_data", "execute_result"]
    assert dict(kinds[0])["c2"] == []


def test_known_results_are_not_calculated_again_and_everything_else_is_run(tmp_path: Path) -> None:
    sources = ["a = 1", "import math\nb = 1 / 0\nc = a + 1", "(a, b, c, math.floor(2.5))"]
    cells = [nbformat.v4.new_code_cell(source, id=f"c{i}") for i, source in enumerate(sources)]
    for cell, tag in zip(cells, ("parameters", "results"), strict=False):
        cell.metadata["tags"] = [tag]
    path = tmp_path / "small.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=cells), path)
    found = run_notebook(path, {"a": 3}, runner=usual_runner({"b": "known"}))
    assert found.cells[-1].outputs[0]["data"]["text/plain"] == "(3, 'known', 4, 2)"
    assert found.cells[2].source == sources[1]
    with pytest.raises(NotebookError, match="ZeroDivisionError"):
        run_notebook(path, {"a": 3}, runner=usual_runner())


def test_the_report_is_the_same_whether_its_results_are_known_or_calculated(mill_annexe: hl.Design) -> None:
    results = {"design": mill_annexe, "parts": mill_annexe.parts(), "commissioning": mill_annexe.commissioning()}
    assert page_of(usual_runner(results)) == page_of(in_this_process)


def test_a_cell_that_fails_names_its_error(tmp_path: Path) -> None:
    cell = nbformat.v4.new_code_cell("1 / 0", metadata={"tags": ["parameters"]})
    path = tmp_path / "bad.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=[cell]), path)
    for runner in (in_this_process, in_a_kernel):
        with pytest.raises(NotebookError, match="ZeroDivisionError"):
            run_notebook(path, {}, runner=runner)


def test_a_fault_of_the_input_in_a_cell_is_no_fault_of_the_program(tmp_path: Path) -> None:
    source = "import heatloop as hl; hl.read_survey('no-such-file.toml')"
    cell = nbformat.v4.new_code_cell(source, metadata={"tags": ["parameters"]})
    path = tmp_path / "unread.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=[cell]), path)
    with pytest.raises(ReportError, match=r"no-such-file\.toml"):
        run_notebook(path, {}, runner=in_this_process)


def test_packages_of_another_active_environment_are_not_mixed_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of a shell that was activated for another Python than the one that runs the report."""
    version = f"python{sys.version_info.major}.{sys.version_info.minor}"
    for place in ("Lib/site-packages", f"lib/{version}/site-packages"):
        (tmp_path / place).mkdir(parents=True)
    monkeypatch.setenv("VIRTUAL_ENV", str(tmp_path))
    before = list(sys.path)
    with in_this_process(nbformat.v4.new_notebook()):
        assert [path for path in sys.path if str(tmp_path) in path] == []
    assert sys.path == before
    assert capsys.readouterr().err == ""
