"""A study on a cluster of Dask: a scheduler and workers in processes of their own, one of which is killed."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

import heatloop as hl
from tests.helpers.killed_studies import parts
from tests.helpers.patience import SURELY_S
from tests.helpers.studies import FEW, assert_same, small_houses

distributed = pytest.importorskip("distributed", reason="dask[distributed], the extra cluster, is not installed")


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory):  # type: ignore[no-untyped-def]
    """A client of a cluster with two worker processes, which begins a new one where one ends."""
    options = {"n_workers": 2, "threads_per_worker": 1, "processes": True, "dashboard_address": None}
    with (
        distributed.LocalCluster(local_directory=tmp_path_factory.mktemp("dask"), **options) as cluster,
        distributed.Client(cluster) as client,
    ):
        yield client


@pytest.fixture
def client(cluster):  # type: ignore[no-untyped-def]
    """The client when both workers are there."""
    cluster.wait_for_workers(2, timeout=SURELY_S)
    return cluster


@pytest.mark.long
def test_a_worker_that_is_killed_loses_and_doubles_no_row(client, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    houses = small_houses(tmp_path / "houses")
    serial = hl.study(houses, tmp_path / "serial", task_size=1, executor=1)
    results, killed = tmp_path / "results", []

    def kill_one(_: str) -> None:
        if len(parts(results)) >= 2 and not killed:
            killed.extend(list(client.run(os.getpid).values())[:1])
            os.kill(killed[0], signal.SIGKILL)

    found = hl.study(houses, results, task_size=1, executor=client.get_executor(), progress=kill_one)
    assert killed
    assert found.complete
    assert found.dwellings["dwelling"].tolist() == [f"house-{number:02d}" for number in range(FEW)]
    assert_same(found, serial)
    (results / "dwellings" / "part-000003.parquet").unlink()  # the same task again is no result kept by the cluster
    assert_same(hl.study(houses, results, task_size=1, executor=client.get_executor()), serial)


def test_a_task_that_fails_on_a_worker_is_reported(client, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    houses = small_houses(tmp_path / "houses", 2)
    results = tmp_path / "results"

    def spoil(_: str) -> None:
        if (results / "rooms").is_dir() and not any((results / "rooms").iterdir()):
            (results / "rooms").rmdir()
            (results / "rooms").write_text("in the way")

    with pytest.raises(OSError, match="rooms"):
        hl.study(houses, results, task_size=1, executor=client.get_executor(), progress=spoil)
