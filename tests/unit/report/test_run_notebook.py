"""The kernel that runs the report's cells: its sockets stay out of the folder a user works in."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from heatloop.report.files.private_folder import private_folder
from heatloop.report.files.run_notebook import KERNEL_FOLDER
from tests.helpers.paths import DATA, ROOT
from tests.helpers.patience import SURELY_S

SURVEY = DATA / "mill-annexe" / "survey.toml"


def start_report(folder: Path, out: Path) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "heatloop", "report", str(SURVEY), "-o", str(out)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(
        command, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


def test_four_reports_at_once_from_one_folder_leave_nothing_in_it(tmp_path: Path) -> None:
    work = tmp_path / "work"
    work.mkdir()
    runs = [start_report(work, tmp_path / f"out{i}") for i in range(4)]
    ends = [(run.communicate(timeout=SURELY_S)[1], run.returncode) for run in runs]
    assert [code for _, code in ends] == [0] * 4, ends
    assert list(work.iterdir()) == []
    pages = {(tmp_path / f"out{i}" / "rooms.csv").read_text(encoding="utf-8") for i in range(4)}
    assert len(pages) == 1


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="no folder here that even root cannot write to")
def test_a_report_from_a_folder_that_cannot_be_written_to(tmp_path: Path) -> None:
    run = start_report(Path("/proc"), tmp_path / "out")
    told = run.communicate(timeout=SURELY_S)[1]
    assert run.returncode == 0, told
    assert (tmp_path / "out" / "report.html").is_file()


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
