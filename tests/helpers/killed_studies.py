"""A study on the command line that is killed at random moments and continued."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Collection
from functools import partial
from pathlib import Path

import numpy as np

import heatloop as hl
from tests.helpers.command_line import answer
from tests.helpers.paths import ROOT
from tests.helpers.patience import SURELY_S
from tests.helpers.studies import TABLES, assert_same, files_of

TASK_SIZE = 1


FILES_AHEAD = 3 * len(TABLES)
"""More files than two processes write at a time."""


def command(houses: Path, results: Path, jobs: int = 2) -> list[str]:
    """The command of the study, in tasks of one dwelling."""
    return ["study", str(houses), "-o", str(results), "--jobs", str(jobs), "--task-size", str(TASK_SIZE)]


def started(houses: Path, results: Path) -> subprocess.Popen[bytes]:
    """The command as a process of its own, which begins two more; what it reports as an error is in its `stderr`."""
    words = [sys.executable, "-m", "heatloop", *command(houses, results)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment, cwd=ROOT)


def children(process: int) -> set[int]:
    """The processes that a process began, where the system lists them."""
    found = Path(f"/proc/{process}/task/{process}/children")
    return set(map(int, found.read_text().split())) if found.exists() else set()


def survives_kills(houses: Path, undisturbed: hl.Study, folder: Path, kills: int, seed: int) -> int:
    """Kill the study at `kills` random moments, each in a folder that grows; the number of dwellings found done.

    A moment is one of the progress of the study, not of a clock, so that it is the same on a busy machine: the first
    kill and every second after it come when some more tasks are done and some files of the next ones are begun, the
    others when some more files are begun, or none. Asserted: whatever stands after a kill can be read and is right,
    none of it is done again, no process is left, and the study in the end has the same rows and files as the
    undisturbed one. When it is whole, another folder is begun.
    """
    rng = np.random.default_rng(seed)
    results, number, seen = folder / "0", 0, 0
    for kill in range(kills):
        before = parts(results)
        process = started(houses, results)
        if kill % 2 == 0:  # the tasks may be those of the end
            _await(process, partial(parts, results), len(before) + int(rng.integers(1, 5)))
            _await(process, partial(_begun, results), len(_begun(results)) + int(rng.integers(0, len(TABLES))))
        else:
            _await(process, partial(_begun, results), len(_begun(results)) + int(rng.integers(0, FILES_AHEAD)))
        process.send_signal(signal.SIGSTOP)  # so that it begins no process after they are listed
        begun = children(process.pid)
        process.send_signal(signal.SIGKILL)
        process.communicate()
        _await_end(begun)
        after = parts(results)
        assert {name: after[name] for name in before} == before, "a task that was done was done again"
        if (results / "study.json").exists():
            held = hl.read_study(results)
            names = held.dwellings["dwelling"].tolist()
            expected = undisturbed.dwellings
            assert held.dwellings.equals(expected[expected["dwelling"].isin(names)].reset_index(drop=True))
            seen += len(names)
            if held.complete:
                _assert_whole(houses, results, undisturbed)
                number += 1
                results = folder / str(number)
    _assert_whole(houses, results, undisturbed)
    return seen


def _await(process: subprocess.Popen[bytes], files: Callable[[], Collection[str]], count: int) -> None:
    """Wait until there are so many files, or the process has ended."""
    until = time.monotonic() + SURELY_S
    while len(files()) < count and process.poll() is None:
        assert time.monotonic() < until
        time.sleep(0.002)


def _begun(results: Path) -> set[str]:
    """The files and folders of the results, each once whether it stands or is being written."""
    return {str(path).partition(".parquet.")[0].removesuffix(".parquet") for path in results.rglob("*")}


def parts(results: Path) -> dict[str, int]:
    """The last files of tasks with the time of their writing."""
    return {path.name: path.stat().st_mtime_ns for path in results.glob("dwellings/part-*.parquet")}


def _assert_whole(houses: Path, results: Path, undisturbed: hl.Study) -> None:
    before = parts(results)
    done = answer(*command(houses, results, jobs=1))
    assert done.returncode in (0, 1), done.stderr
    after = parts(results)
    assert {name: after[name] for name in before} == before
    assert_same(hl.read_study(results), undisturbed)
    assert files_of(results) == files_of(Path(undisturbed.folder))


def _await_end(processes: set[int]) -> None:
    """Wait until these processes have ended; they end with the one that began them."""
    until = time.monotonic() + SURELY_S
    while any(_runs(process) for process in processes):
        assert time.monotonic() < until, "a process of a killed study still runs"
        time.sleep(0.02)


def _runs(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"
