"""A study that is killed and continued gives the rows of an undisturbed one."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import pytest

import heatloop as hl
from tests.helpers.killed_studies import TASK_SIZE, parts, started, survives_kills
from tests.helpers.patience import SURELY_S
from tests.helpers.studies import FEW, assert_same, small_houses

pytestmark = pytest.mark.skipif(os.name != "posix" or sys.platform == "darwin", reason="processes are listed in /proc")


@pytest.fixture(scope="module")
def houses(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_houses(tmp_path_factory.mktemp("houses"))


@pytest.fixture(scope="module")
def undisturbed(houses: Path, tmp_path_factory: pytest.TempPathFactory) -> hl.Study:
    return hl.study(houses, tmp_path_factory.mktemp("results"), task_size=TASK_SIZE, executor=1)


@pytest.mark.long
def test_a_study_killed_at_random_moments_continues(houses: Path, undisturbed: hl.Study, tmp_path: Path) -> None:
    assert len(undisturbed.dwellings) == FEW
    assert survives_kills(houses, undisturbed, tmp_path, kills=1, seed=1) > 0


def test_ctrl_c_keeps_what_is_done(houses: Path, undisturbed: hl.Study, tmp_path: Path) -> None:
    results = tmp_path / "results"
    process = started(houses, results)
    until = time.monotonic() + SURELY_S
    while not parts(results):
        assert time.monotonic() < until
        time.sleep(0.02)
    process.send_signal(signal.SIGINT)
    _, said = process.communicate(timeout=SURELY_S)
    assert process.returncode == 130
    kept = "the results so far are kept, and the same study continues with them"
    assert said.decode() == f"heatloop: interrupted; {kept}\n"
    before = parts(results)
    assert before
    assert_same(hl.study(houses, results, task_size=TASK_SIZE, executor=1), undisturbed)
    assert {name: time for name, time in parts(results).items() if name in before} == before
