"""Studies: one killed at random moments and continued, and one of thousands of different houses."""

from __future__ import annotations

import argparse
import resource
import tempfile
import time
from pathlib import Path

import heatloop as hl
from tests.helpers.killed_studies import TASK_SIZE, survives_kills
from tests.helpers.many_dwellings import deviations
from tests.helpers.studies import FEW, portfolio_files, small_houses
from tests.long.records import write_record


def study(arguments: list[str]) -> int:
    """Kill a small study at `--kills` random moments, each time continued; 1 where it then differs."""
    parser = argparse.ArgumentParser(prog="python -m tests.long study", description=__doc__)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=2026)
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        houses = small_houses(folder / "houses")
        undisturbed = hl.study(houses, folder / "undisturbed", task_size=TASK_SIZE, executor=1)
        try:
            found = survives_kills(houses, undisturbed, folder, asked.kills, asked.seed)
        except AssertionError as error:
            print(f"the study differs from an undisturbed one: {error}")
            return 1
    print(f"{asked.kills} kills of a study of {FEW} dwellings; after them {found} rows of dwellings stood, all right")
    write_record("study", {"kills": asked.kills, "seed": asked.seed, "dwellings": FEW, "found": found})
    return 0


CLOSE, COMPARED = 1e-6, 20
"""Greatest deviation from `hl.size`, and the number of houses that are compared."""


def portfolio(arguments: list[str]) -> int:
    """Study `--count` different houses; 1 where rows are missing, doubled or other than those of `hl.size`."""
    parser = argparse.ArgumentParser(prog="python -m tests.long portfolio", description=__doc__)
    parser.add_argument("--count", type=int, default=10_000)
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        houses = portfolio_files(Path(name) / "houses", asked.count)
        paths = sorted(houses.glob("house-*.toml"))
        hl.size(paths[0])
        began = time.process_time()
        designs = {path.stem: hl.size(path) for path in paths[:: max(asked.count // COMPARED, 1)]}
        size_s = (time.process_time() - began) / len(designs)
        before = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
        began = time.monotonic()
        found = hl.study(houses, Path(name) / "results", executor=asked.jobs)
        wall_s = time.monotonic() - began
        after = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
        used_s = sum(b.ru_utime + b.ru_stime - a.ru_utime - a.ru_stime for a, b in zip(before, after, strict=True))
        complete = found.complete and found.dwellings["dwelling"].tolist() == [path.stem for path in paths]
        worst = max(max(deviations(found, house, design).values()) for house, design in designs.items())
        bytes_held = sum(path.stat().st_size for path in Path(found.folder).rglob("*.parquet"))
    figures = {
        "count": asked.count,
        "jobs": asked.jobs,
        "minutes": round(wall_s / 60.0, 1),
        "sizes": round(used_s / asked.count / size_s, 3),
        "process_mb": after[1].ru_maxrss // 1024,
        "megabytes": round(bytes_held / 1e6, 1),
        "compared": len(designs),
        "worst": worst,
    }
    print(figures)
    passed = bool(complete and worst < CLOSE)
    if passed:
        write_record("portfolio", figures)
    return int(not passed)
